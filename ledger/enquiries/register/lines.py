"""What stands in a loss register: its lines and their sums. Microlitres of pure alcohol."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from ledger.enquiries.standing import Standing


@dataclass(frozen=True, slots=True)
class LossLine:
    """One entry on an account of known losses. Negative alcohol: less was lost than had been booked."""

    at: datetime
    written_at: datetime
    record_kind: str
    record: str
    operation: str
    cause: str
    stage: str
    product: str
    pure_ul: int
    litres20: float | None
    percent20: float | None
    reason: str
    persons: tuple[str, ...]
    enquiry: str
    movement: int


@dataclass(frozen=True, slots=True)
class DifferenceLine:
    """One record's difference that an enquiry is about: what it left, what of it is explained, what is open.

    Amounts are those of the period's account. `earlier_ul` is what the accounts of closed periods before it bear of the
    same record, where what it left was put right after the close.
    """

    at: datetime
    record_kind: str
    record: str
    operation: str
    stage: str
    left_ul: int
    explained_ul: int
    standing: Standing
    earlier_ul: int = 0

    @property
    def open_ul(self) -> int:
        return self.left_ul - self.explained_ul

    @property
    def in_all_ul(self) -> int:
        """The record's difference over all periods that bear some of it, explanations left out."""
        return self.left_ul + self.earlier_ul


@dataclass(frozen=True, slots=True)
class Register:
    """A month's register. `within` are the differences no enquiry is about: how many, missing in all, extra in all."""

    period: str
    losses: tuple[LossLine, ...]
    gains: tuple[LossLine, ...]
    differences: tuple[DifferenceLine, ...]
    within_count: int
    within_missing_ul: int
    within_extra_ul: int
    enquiries: tuple[Standing, ...]

    @property
    def lost_ul(self) -> int:
        return sum(line.pure_ul for line in self.losses)

    @property
    def gained_ul(self) -> int:
        return sum(line.pure_ul for line in self.gains)

    @property
    def open_missing_ul(self) -> int:
        return sum(line.open_ul for line in self.differences if line.open_ul > 0)

    @property
    def open_extra_ul(self) -> int:
        return sum(line.open_ul for line in self.differences if line.open_ul < 0)

    @property
    def difference_ul(self) -> int:
        """All differences together, as the month's account has them."""
        return self.open_missing_ul + self.open_extra_ul + self.within_missing_ul + self.within_extra_ul

    def by_cause(self) -> list[tuple[str, int, int]]:
        """Cause, lost, booked back; in order of name."""
        return self._sums("cause")

    def by_stage(self) -> list[tuple[str, int, int]]:
        """Stage, lost, booked back; in order of name."""
        return self._sums("stage")

    def _sums(self, name: str) -> list[tuple[str, int, int]]:
        sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
        for place, lines in enumerate((self.losses, self.gains)):
            for line in lines:
                sums[line.cause if name == "cause" else line.stage][place] += line.pure_ul
        return [(key, lost, back) for key, (lost, back) in sorted(sums.items())]

    @property
    def not_found(self) -> list[Standing]:
        """Enquiries that ended without a cause: whether duty is due on them the law and the officer decide."""
        return [one for one in self.enquiries if one.not_found]
