"""Whose hands an entry went through: who read, who typed, at which PC. Who saved it is its person.

Each stands only where it is somebody else than who saved it; sign-on names, because the digest carries them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any, Final

from distillery.people.models import Person


@dataclass(frozen=True, slots=True)
class Hands:
    """What a page knows of an entry besides who saves it.

    `read_by` took the reading; `typed_by` had the pen as the figures were typed, several by commas; `pc` is the name of
    the enrolled PC; `late_reason` says why it was written long after it happened; `blank_sheet` is the serial of the
    issued blank sheet it was first written on. Blank where there is nothing to say.
    `asks_late`: the page has a box for that reason, so it is asked for where it is blank. `unsigned`: several people
    pass by this PC, and nobody showed with this form who they are, so nothing that signs is written. Neither is kept.
    """

    read_by: str = ""
    typed_by: str = ""
    pc: str = ""
    late_reason: str = ""
    blank_sheet: str = ""
    asks_late: bool = False
    unsigned: bool = False

    def columns(self, names: Iterable[str] = ()) -> dict[str, str]:
        """The columns of a row that keeps them, each with its value; only the named ones where some are named."""
        return {name: getattr(self, name) for name in names or COLUMNS}

    @property
    def why_late(self) -> str | None:
        """The reason as written; None where nobody is asked for one. What was first written on paper says so itself."""
        on_paper = f"written on blank sheet {self.blank_sheet}" if self.blank_sheet else ""
        return (self.late_reason or on_paper) if self.asks_late else None


COLUMNS: Final = tuple(one.name for one in fields(Hands) if one.name not in ("asks_late", "unsigned"))
# Of a count, which is walked with sheets of its own.
OF_A_COUNT: Final = ("read_by", "typed_by", "pc", "late_reason")
ALONE: Final = Hands()


def said_by(row: Any) -> dict[str, str]:
    """What a version or reading says of the hands it went through: the columns that are not blank."""
    return {name: said for name in COLUMNS if (said := getattr(row, name))}


def names_in(rows: Iterable[Any]) -> dict[str, str]:
    """The names shown of everybody whom some versions or readings name so, by sign-on name. One query, or none."""
    named = {name for row in rows for both in (row.read_by, row.typed_by) for name in both.split(", ") if name}
    return {one.username: one.shown_name for one in Person.objects.filter(username__in=named)} if named else {}


def in_words(row: Any, names: dict[str, str]) -> str:
    """'read by A, typed by B, at Still house PC, written late: it was forgotten', or nothing.

    `names` as `names_in` gives them.
    """

    def shown(both: str) -> str:
        return " and ".join(names.get(name, name) for name in both.split(", "))

    said = [f"read by {shown(row.read_by)}"] if row.read_by else []
    said += [f"typed by {shown(row.typed_by)}"] if row.typed_by else []
    said += [f"at {row.pc}"] if row.pc else []
    said += [f"from blank sheet {row.blank_sheet}"] if row.blank_sheet else []
    said += [f"written late: {row.late_reason}"] if row.late_reason else []
    return ", ".join(said)
