"""Lists of the site page: PCs that were enrolled, wrong tries, PINs, keys and passes."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils import timezone

from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.pen.models import DatedPass, EnrolledPC, PinChosen, SecurityKey, Try


def _tried(row: Try) -> str:
    return f"{row.get_way_display()}, wrong" if row.what == Try.What.TRIED else row.get_way_display()


def _followed(row: Try) -> str:
    if row.stops:
        return "the PIN stopped"
    return f"{row.wait_s} s to wait" if row.wait_s else "nothing"


class EnrolledPCTable(HouseTable):
    """PCs at which a PIN is enough, and those at which it once was."""

    pc = ListColumn("PC", "name", href=lambda row: "" if row.ended_at else f"{reverse('pc_end')}?pc={row.pk}")
    place = ListColumn("Place", "place")
    idle = ListColumn("Locks after", lambda row: f"{row.idle_minutes} min")
    enrolled = MomentColumn("Enrolled", "enrolled_at")
    by = ListColumn("By", lambda row: row.enrolled_by.shown_name)
    ended = ListColumn("Ended", lambda row: f"by {row.ended_by.shown_name}" if row.ended_by else "", none="no")
    ended_at = MomentColumn("Ended at", "ended_at", none="no")

    name, caption = "enrolled-pcs", "Enrolled PCs"
    note = "a PIN works at these alone; choose one to end it"
    nothing = "No PC is enrolled. Sign on at the PC with a password and press Enrol this PC."


class PinTable(HouseTable):
    """Who has chosen a PIN, when, and who was there."""

    person = ListColumn("Name", lambda row: row.person.shown_name)
    at = MomentColumn("Chosen", "at")
    present = ListColumn("There were", lambda row: _there(row))

    name, caption = "pins", "PINs chosen"
    nothing = "Nobody has chosen a PIN."


def _there(row: PinChosen) -> str:
    return " and ".join(one.shown_name for one in (row.present, row.also_present) if one)


class WrongTryTable(HouseTable):
    """Tries to take the pen that were wrong."""

    at = MomentColumn("When", "at")
    name_ = ListColumn("Name", "name", none="nobody known here")
    how = ListColumn("How", _tried)
    pc = ListColumn("PC", lambda row: row.pc or row.address, none="not known")
    followed = ListColumn("What followed", _followed)

    name, caption = "wrong-tries", "Wrong tries"
    note = "the latest fifty"
    nothing = "No wrong try."


class PassTable(HouseTable):
    """Passes of officers."""

    person = ListColumn("Name", lambda row: row.person.shown_name)
    made = MomentColumn("Made", "made_at")
    by = ListColumn("By", lambda row: row.made_by.shown_name)
    ends = MomentColumn("Ends", "ends_at")
    now = ListColumn("Now", lambda row: "stands" if row.ends_at > timezone.now() else "ended")

    name, caption = "passes", "Officers' passes"
    nothing = "No pass was made."


class KeyTable(HouseTable):
    """Security keys and cards."""

    person = ListColumn("Name", lambda row: row.person.shown_name)
    key = ListColumn("Key", "name", href=lambda row: "" if row.ended_at else f"{reverse('key_end')}?key={row.pk}")
    at = ListColumn("Works at", "site")
    registered = MomentColumn("Registered", "registered_at")
    present = ListColumn("There was", lambda row: row.present.shown_name)
    ended = MomentColumn("Ended", "ended_at", none="no")

    name, caption = "keys", "Security keys and cards"
    note = "choose one to end it"
    nothing = "No key is registered."


WRONG_SHOWN = 50


def passes_list() -> tuple[type[HouseTable], Any]:
    """The passes of officers with their rows."""
    return PassTable, list(DatedPass.objects.select_related("person", "made_by").order_by("-made_at"))


def pen_lists() -> list[tuple[type[HouseTable], Any]]:
    """Every list of the site page that is about the pen, with its rows."""
    wrong = Try.objects.filter(what=Try.What.TRIED, answer__isnull=True).order_by("-at", "-pk")[:WRONG_SHOWN]
    return [
        (EnrolledPCTable, list(EnrolledPC.objects.select_related("enrolled_by", "ended_by").order_by("-enrolled_at"))),
        (PinTable, list(PinChosen.objects.select_related("person", "present", "also_present").order_by("-at"))),
        (KeyTable, list(SecurityKey.objects.select_related("person", "present").order_by("-registered_at"))),
        passes_list(),
        (WrongTryTable, list(wrong)),
    ]
