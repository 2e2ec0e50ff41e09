"""The list of a kind of dated figure: every row there ever was, which one holds, and in whose hands, when
and why it was entered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, ClassVar

from django.urls import reverse

from distillery.clock.reading import books_today
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.pages import Kind, State
from distillery.rules.setting.entering import by_whom, entered
from distillery.rules.setting.two_hands import agreed_to

HELD, LATER, BEFORE = "in force", "not yet", "no longer"
LAST_COLUMNS = ("since", "now", "source", "who", "agreed", "entered", "why")


class DatedTable(HouseTable):
    """Lines that hold from a day until the next of their `group` does, those of one group together.

    `group` names the columns of the model that tell one figure from another. `setting` is its kind where a line may be
    set anew, blank where the reader may not.
    """

    now = ListColumn("Now", lambda row: row.now, state=lambda row: _state(row))
    who = ListColumn("Entered by", lambda row: row.who)
    agreed = ListColumn("Agreed by", lambda row: row.agreed, none="not asked")
    entered = MomentColumn("Entered", lambda row: row.entered, none="with the program")
    why = ListColumn("Why", lambda row: row.why, none="not said")

    group: ClassVar[tuple[str, ...]] = ()

    def __init__(self, data: Any, *, setting: str = "", **more: Any) -> None:
        self.setting = setting
        super().__init__(data, **more)

    def prepare(self, rows: Sequence[Any]) -> None:
        if not rows:
            return
        known, agreed = entered(rows), agreed_to(rows)
        holding = self._holding(type(rows[0]), books_today())
        for row in rows:
            one = known.get(row.pk)
            row.who = by_whom(one)
            row.agreed = agreed.get(row.pk, "")
            row.entered, row.why = (None, "") if one is None else (one.entered_at, one.reason)
            row.now = LATER if row.from_day > books_today() else HELD if row.pk in holding else BEFORE
            row.set_anew = f"{reverse('site_setting_new', args=[self.setting])}?row={row.pk}" if self.setting else ""

    def _holding(self, model: Any, today: date) -> set[int]:
        """The keys of the rows that hold on a day: of each group the one that starts last, or was written last."""
        rows = model._default_manager.filter(from_day__lte=today).order_by("from_day", "pk")
        return set({row[1:]: row[0] for row in rows.values_list("pk", *self.group)}.values())


def set_anew(row: Any) -> str:
    """The way to a new row in place of one; blank where there is none. For the first column of a list."""
    found: str = row.set_anew if row.now != BEFORE else ""
    return found


def _state(row: Any) -> State | None:
    return State(Kind.WAITING, "Later") if row.now == LATER else None
