"""Weak worts, which one mash leaves and the next begins with: their stock by the mash that left them.

They hold extract and no alcohol, so their book is read off the mashes themselves, in litres.
"""

from __future__ import annotations

from dataclasses import dataclass

from batches.models import Mention, Record, State
from batches.sheets.sheet import Note, Problem
from batches.sheets.typed.completed import Completed
from batches.steps.shared.site_figures import set_figure
from distillery import figures
from distillery.clock.reading import site_day

TAKEN_FROM = "weak_from"


@dataclass(frozen=True, slots=True)
class Left:
    """Weak worts that a mash left: litres as written there, litres other mashes took of them, their gravity."""

    litres: float
    taken: float
    gravity: float | None

    @property
    def there(self) -> float:
        """Litres that are still there by the book."""
        return self.litres - self.taken


def left_by(written: Completed, mash: Record) -> Left | None:
    """What a mash left, less what others than this record took of it; None where it wrote nothing of it."""
    litres = written.site.told_number(mash, "weak_out_litres")
    if litres is None:
        return None
    others = (
        Record.objects.filter(
            kind=mash.kind,
            mentions__what=Mention.What.RECORD,
            mentions__field=TAKEN_FROM,
            mentions__code=mash.number,
        )
        .exclude(state=State.VOID)
        .exclude(number=written.number)
        .distinct()
    )
    taken = sum(written.site.told_number(one, "weak_in_litres") or 0.0 for one in others)
    return Left(litres, taken, written.site.told_number(mash, "weak_out_gravity"))


def itself(written: Completed) -> list[Problem]:
    """A mash begins with what another one left."""
    if not written.has(TAKEN_FROM) or written.record(TAKEN_FROM).number != written.number:
        return []
    return [Problem(TAKEN_FROM, None, f"{written.number} is this mash; name the one before that left them.")]


def disagreeing(written: Completed) -> list[Note]:
    """Where litres or gravity taken in are not those that the mash before left, one note each."""
    if not written.has("weak_in_litres"):
        return []
    litres = written.real("weak_in_litres")
    if not written.has(TAKEN_FROM):
        said = "Weak worts were taken in, but not from which mash: write the mash that left them."
        return [Note("weak_in_litres", None, said)] if litres else []
    mash = written.record(TAKEN_FROM)
    left = left_by(written, mash)
    if left is None:
        return [Note("weak_in_litres", None, f"{mash.number} wrote nothing of weak worts that it left.")]
    day, notes = site_day(written.moment("started_at")), []
    if abs(litres - left.there) > left.litres * set_figure("weak worts beside the last mash", day) / 100.0:
        taken = f", of which {figures.litres(left.taken, 0)} L are taken already" if left.taken else ""
        notes.append(
            Note(
                "weak_in_litres",
                None,
                f"Weak worts in are {figures.litres(litres, 0)} L, but {mash.number} left "
                f"{figures.litres(left.litres, 0)} L{taken}.",
            )
        )
    allowed = set_figure("gravity of weak worts beside the last mash", day)
    if left.gravity is not None and written.has("weak_in_gravity"):
        gravity = written.real("weak_in_gravity")
        # Gravities are read to the fourth decimal; less than half of it came in with the subtraction.
        if abs(gravity - left.gravity) > allowed + 5e-5:
            said = f"Weak worts in are at {gravity:.4f}, but {mash.number} left them at {left.gravity:.4f}."
            notes.append(Note("weak_in_gravity", None, said, instead=f"{left.gravity:.4f}"))
    return notes
