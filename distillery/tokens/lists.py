"""The list of tokens."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db.models import Max
from django.urls import reverse

from distillery import figures
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.pages import Kind, State
from distillery.tokens.models import ConsumerToken, TokenUsed

ENDED = State(Kind.STRUCK, "Ended")


def _end(row: ConsumerToken) -> Any:
    return getattr(row, "ended", None)


class TokenTable(HouseTable):
    """Every token that was ever made, newest first."""

    consumer = ListColumn(
        "Program",
        "name",
        href=lambda row: "" if _end(row) else f"{reverse('token_end')}?token={row.pk}",
        state=lambda row: ENDED if _end(row) else None,
    )
    made = MomentColumn("Made", "made_at", order=("made_at", "pk"))
    by = ListColumn("By", lambda row: row.made_by.shown_name)
    used = ListColumn("Used last", lambda row: row.used_last, none="never")
    ended = MomentColumn("Ended", lambda row: _end(row).at if _end(row) else None, none="no")
    ended_by = ListColumn("Ended by", lambda row: _end(row).by.shown_name if _end(row) else "")
    reason = ListColumn("Why", lambda row: _end(row).reason if _end(row) else "")

    name = "tokens"
    caption = "Tokens"
    note = "newest first; choose one to end it"
    nothing = "No program reads these books. Make a token for the one that shall."

    class Meta(HouseTable.Meta):
        order_by = ("-made",)

    def prepare(self, rows: Sequence[Any]) -> None:
        """The last day on which each of these was used."""
        days: dict[int, date] = dict(
            TokenUsed.objects.filter(token__in=[row.pk for row in rows])
            .values("token")
            .annotate(last=Max("day"))
            .values_list("token", "last")
        )
        for row in rows:
            row.used_last = figures.day(days[row.pk], year=True) if row.pk in days else ""
