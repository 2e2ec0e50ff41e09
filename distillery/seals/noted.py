"""Whether a seal noted elsewhere, on paper or in a file, stands in these books.

Any seal will do: one of the books, or that of a movement, which the floor above looks for itself.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from distillery.hashing import utc
from distillery.seals.lookup import day_of, gaps, last_seal, said_of
from distillery.seals.models import BooksSeal, SealGap

SHORTEST: Final = 8
LINE: Final = re.compile(r"(?P<day>\d{4}-\d\d-\d\d)\S*\s+(?P<number>\d{1,18})\s+(?P<seal>[0-9a-f]{64})\s*")


class UnreadableNote(ValueError):
    """A noted seal or a file of them that cannot be read; one sentence."""


@dataclass(frozen=True, slots=True)
class Noted:
    """What became of one noted seal: whether it stands here, and the sentence that says so."""

    stands: bool
    sentence: str


def line_of(books_seal: BooksSeal) -> str:
    """A seal as it stands in a file elsewhere: time in UTC, number, seal."""
    return f"{utc(books_seal.made_at)} {books_seal.number} {books_seal.seal}\n"


def not_here(shown: str) -> Noted:
    """Said of a seal that no chain of these books has."""
    last = last_seal()
    newest = f"Their last seal is {last.number} of {day_of(last)}." if last is not None else "They have no seal at all."
    for gap in gaps():
        if gap.noted_seal.startswith(shown) or shown.startswith(gap.noted_seal):
            return Noted(False, f"Seal {shown} does not stand in these books. {said_of(gap)}")
    return Noted(
        False,
        f"Seal {shown} does not stand in these books: they are an older copy, their end was taken off, or they were "
        f"written again. {newest}",
    )


def standing(books_seal: BooksSeal) -> Noted:
    """Said of a seal of the books that is there. Whether it holds, the proof says."""
    said = f"Seal {books_seal.number} of the books stands in the chain; it was made on {day_of(books_seal)}."
    return Noted(True, said)


def compared_with(file: Path) -> list[str]:
    """One sentence for each line of a file of noted seals that these books do not have. Raises UnreadableNote.

    What two people recorded as lost is no fault; the gap itself is said by `gaps`.
    """
    try:
        lines = file.read_text(encoding="ascii").splitlines()
    except OSError as error:
        raise UnreadableNote(f"The file of seals {file} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise UnreadableNote(f"{file} is no file of seals: other letters than theirs stand in it.") from error
    wrong: list[str] = []
    recorded = gaps()
    for place, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        found = LINE.fullmatch(line)
        if found is None:
            raise UnreadableNote(f"{file}, line {place}: this is no line of a seal (day, number, seal).")
        number, seal = int(found["number"]), found["seal"]
        here = BooksSeal.objects.filter(number=number).first()
        if (here is not None and here.seal == seal) or _recorded_as_lost(number, recorded):
            continue
        if here is None:
            wrong.append(f"{file}, line {place}: seal {number} of {found['day']} is not there; the books end before it")
        else:
            wrong.append(f"{file}, line {place}: seal {number} of {found['day']} is another in these books")
    return wrong


def append_to(file: Path) -> bool:
    """Writes the last seal behind those in the file, unless it is the last there; True where it was written.

    Raises UnreadableNote where the file cannot be written.
    """
    last = last_seal()
    if last is None:
        return False
    line = line_of(last)
    try:
        there = file.read_text(encoding="ascii") if file.exists() else ""
        if there.endswith(line):
            return False
        with file.open("a", encoding="ascii") as noted:
            noted.write(line if not there or there.endswith("\n") else f"\n{line}")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is no file of seals"
        raise UnreadableNote(f"The file of seals {file} cannot be written: {reason}.") from error
    return True


def _recorded_as_lost(number: int, recorded: list[SealGap]) -> bool:
    return any(gap.after < number <= gap.noted_number for gap in recorded)
