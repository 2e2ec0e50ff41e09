"""The board of washbacks: what is in each, when it is ready, which is charged next and which wash still is free."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.pages.running.shown import clock_or_day
from batches.running.washbacks import Board, WashbackNow, board
from batches.sheets.cautions import CARBON_DIOXIDE
from batches.sheets.register import sheet_of
from distillery import pages
from distillery.clock.reading import books_now
from distillery.lists.columns import FigureColumn, ListColumn, MomentColumn
from distillery.lists.showing import listed
from distillery.lists.tables import HouseTable


def _record(row: WashbackNow) -> str:
    if not row.record_number:
        return ""
    runs = sheet_of(row.record_kind).running is not None and row.waiting_since is None
    name = "record_running" if runs else "record"
    return reverse(name, args=[row.record_kind, row.record_number])


def _vessel(row: WashbackNow) -> str:
    return reverse("vessel_account", kwargs={"code": row.vessel.code})


def _state(row: WashbackNow) -> str:
    return f"{row.state}. {row.cleaning.said}" if row.cleaning is not None else row.state


class WashbackTable(HouseTable):
    """Every washback as it stands now."""

    washback = ListColumn(
        "Washback", "vessel__code", href=lambda row: reverse("vessel_account", kwargs={"code": row.vessel.code})
    )
    state = ListColumn("State", _state)
    record = ListColumn("Record", "record_number", href=_record)
    litres = FigureColumn("Holds", "litres", unit="L")
    hours = FigureColumn("Since it was set", "hours", unit="h")
    gravity = FigureColumn("Gravity, last read", "gravity", places=4)
    ready = MomentColumn(
        "Ready near", "ready_at", state=lambda row: pages.ESTIMATE if row.ready_at is not None else None
    )
    waiting = MomentColumn("Waits since", "waiting_since", state=lambda row: pages.LOOK if row.waits_too_long else None)

    name, caption = "washbacks", "Washbacks"
    note = "ready near is an estimate by how long the last batches in the same washback took"
    nothing = "No washbacks are set up. Load the plant's tables with the command load_month."


def washbacks(request: HttpRequest) -> HttpResponseBase:
    """The board of washbacks; its list saves as a file and prints."""
    now = books_now()
    stands = board(now)
    found = listed(request, WashbackTable, list(stands.washbacks))
    if found.file is not None:
        return found.file
    return render(
        request,
        "batches/washbacks.html",
        {
            "area": "plant",
            "washbacks": found.table,
            "facts": [
                _next(stands.next_to_charge, now),
                pages.Fact("Wash stills free", ", ".join(one.code for one in stands.free_stills) or "None"),
                *_busy(stands),
            ],
            "caution": CARBON_DIOXIDE.sentence,
        },
    )


def _next(row: WashbackNow | None, now: datetime) -> pages.Fact:
    """Which washback is charged next, and why that one."""
    label = "Next to charge"
    if row is None:
        return pages.Fact(label, "None", note="no wash waits, and of none that ferments the end is known")
    if row.waiting_since is not None:
        note = f"waits since {clock_or_day(row.waiting_since, now)}"
        return pages.Fact(label, row.vessel.code, note=note, state=pages.LOOK if row.waits_too_long else None)
    at = clock_or_day(row.ready_at, now) if row.ready_at is not None else ""
    return pages.Fact(label, row.vessel.code, note=f"ready near {at}", state=pages.ESTIMATE)


def _busy(stands: Board) -> list[pages.Fact]:
    return [
        pages.Fact(
            still.code,
            f"{run.record.number}, {run.spans[-1].state.lower()}",
            href=reverse("record_running", args=[run.record.kind, run.record.number]),
        )
        for still, run in stands.busy_stills
    ]
