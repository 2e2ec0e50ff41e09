"""The duty of a removal as it stands now: as posted, or worked out since if it was not known then.

A posted fact never changes. Where the rate or a rounding of the day was not known at posting, the row says so and bears
no money; once what was missing is entered, the duty is worked out from the litres and the strength of the same row, at
the figures of the day of its duty point. Money not known is never shown as nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from distillery.clock.reading import site_day
from distillery.rules.in_force import NoDutyRate, duty_on_line
from ledger.models import Duty, Movement

MICRO = 1_000_000


@dataclass(frozen=True, slots=True)
class DutyNow:
    """Duty on one line: strength and alcohol as duty takes them, rate and pence. Both None where it is not known, and
    `source` then says what to enter; `since` where it was worked out after posting.
    """

    removal: str
    record: str
    tax_type: str
    percent: Decimal
    pure_ul: int
    rate_pence_hundredths: int | None
    pence: int | None
    source: str
    since: bool = False


def duty_now(duty: Duty, movement: Movement) -> DutyNow:
    """What is known of a posted duty today."""
    percent = Decimal(duty.percent_millionths) / MICRO
    record = movement.record_number
    if duty.pence is not None:
        return DutyNow(
            duty.removal,
            record,
            duty.tax_type,
            percent,
            duty.pure_ul,
            duty.rate_pence_hundredths,
            duty.pence,
            duty.source,
        )
    # The opposite of a removal has negative litres. Duty is worked out on the litres that left and its sign turned.
    sign = -1 if duty.litres20_ul < 0 else 1
    day = site_day(movement.took_place_at)
    try:
        due = duty_on_line(day, Decimal(abs(duty.litres20_ul)) / MICRO, percent)
    except NoDutyRate as unknown:
        return DutyNow(duty.removal, record, "", percent, duty.pure_ul, None, None, str(unknown))
    return DutyNow(
        duty.removal,
        record,
        due.rate.tax_type,
        due.percent,
        sign * int(due.lpa * MICRO),
        due.rate.pence_hundredths_per_lpa,
        sign * due.pence,
        due.rate.source,
        since=True,
    )


@dataclass(frozen=True, slots=True)
class DutySum:
    """The duty of some lines together: pence as far as known, and why the rest is not, one sentence each."""

    known_pence: int
    not_known: tuple[str, ...] = ()

    @property
    def pence(self) -> int | None:
        """The whole sum, None where a part of it is not known."""
        return None if self.not_known else self.known_pence


def duty_sum(lines: Iterable[DutyNow]) -> DutySum:
    """Adds duties up. What was taken back and posted anew cancels, known or not."""
    known = 0
    open_lines: dict[tuple[str, str], int] = defaultdict(int)
    for line in lines:
        if line.pence is None:
            open_lines[(line.record, line.source)] += line.pure_ul
        else:
            known += line.pence
    by_sentence: dict[str, list[str]] = defaultdict(list)
    for (record, sentence), pure in open_lines.items():
        if pure:
            by_sentence[sentence].append(record)
    said = tuple(f"{', '.join(sorted(records))}: {sentence}" for sentence, records in by_sentence.items())
    return DutySum(known, said)
