"""What goods that leave come to: their litres, strength and pure alcohol, the duty on each line, the papers the law
asks for, and what arrived at the other end.

Litres and strengths at 20 °C, pure alcohol in litres, money in pounds. Duty takes a label's strength, or where there is
none the measured one, cut down to one decimal (SI 2023/806 reg 3(5)-(6); Alcoholic products technical guide, section
11), and the rate of the day on which the goods reach their duty point (SI 2023/884 reg 10(2)).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final

from batches.sheets.results import Head, Line, Makes, Result
from batches.sheets.sheet import Problem
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.dispatch import BEARS_DUTY, asked_of, to_report
from distillery import figures
from distillery.clock.reading import site_day
from distillery.pages import Kind, State
from distillery.plant.models import MICRO
from distillery.rules.in_force import DutyNotKnown, NoDutyRate, duty_on_line, review_threshold
from distillery.rules.models import ONE
from ledger.models import Duty
from ledger.posting.drafts import DutyDue
from ledger.posting.duties import duty_now

# How review thresholds know what a movement may differ by from end to end.
MOVEMENT: Final = "movement under bond"
MISSING: Final = State(Kind.MISSING, "Missing")
OVERDUE: Final = State(Kind.OUT, "Overdue")
# Litres of a return have two decimals; a measured strength is written with two.
HUNDREDTH: Final = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Leaving:
    """One line that leaves: what it is, litres and strength as duty takes them, and what the books let go."""

    what: str
    litres20: Decimal
    percent: Decimal
    pure_ul: int


LinesOf = Callable[[Completed], Sequence[Leaving]]


def measured(what: str, litres20: float, percent20: float, pure_ul: int) -> Leaving:
    """A line that bears no label: measured litres and strength to two decimals, as a record shows them."""
    return Leaving(
        what,
        Decimal(str(litres20)).quantize(HUNDREDTH),
        Decimal(str(percent20)).quantize(HUNDREDTH),
        pure_ul,
    )


def duties_due(written: Completed, lines: Sequence[Leaving]) -> tuple[DutyDue, ...]:
    """Duty on each line at the rate of the day, or why it is not known; nothing where none falls due.

    Raises Ungaugeable for a day before any rate and for a strength that bears none.
    """
    kind = written.text("kind")
    return tuple(_duty_due(written, kind, line) for line in lines) if kind in BEARS_DUTY else ()


def _duty_due(written: Completed, kind: str, line: Leaving) -> DutyDue:
    try:
        due = duty_on_line(site_day(written.moment("at")), line.litres20, line.percent)
    except DutyNotKnown as unknown:
        lpa = line.litres20 * line.percent / 100
        return DutyDue(kind, "", line.litres20, line.percent, lpa, None, None, str(unknown))
    except NoDutyRate as error:
        raise Ungaugeable("at", str(error)) from error
    return DutyDue(
        removal=kind,
        tax_type=due.rate.tax_type,
        litres20=line.litres20,
        percent=due.percent,
        lpa=due.lpa,
        rate_pence_hundredths=due.rate.pence_hundredths_per_lpa,
        pence=due.pence,
        source=due.rate.source,
    )


def what_leaves(lines_of: LinesOf) -> Makes:
    """Each line with its litres, strength and pure alcohol, and all of them together."""

    def made(written: Completed, now: datetime) -> Result:
        lines = lines_of(written)
        heads = (
            Head("What leaves"),
            Head("Volume", "L at 20 °C", figure=True),
            Head("Strength", "% vol at 20 °C", figure=True),
            Head("Alcohol", "LPA", figure=True),
        )
        shown = [_shown(one.what, one.litres20, figures.percent(one.percent, 2), one.pure_ul) for one in lines]
        if len(lines) > 1:
            shown.append(
                _shown("All", sum(one.litres20 for one in lines), "", sum(one.pure_ul for one in lines)),
            )
        return Result("What leaves", heads, tuple(shown))

    return made


def _shown(what: str, litres20: Decimal | int, percent: str, pure_ul: int) -> Line:
    return Line((what, figures.litres(litres20, 2), percent, figures.lpa(pure_ul, 3)))


def duty_worked_out(lines_of: LinesOf) -> Makes:
    """The duty on each line as it is worked out now; nothing where none falls due, or where the books say the same."""

    def made(written: Completed, now: datetime) -> Result | None:
        lines = lines_of(written)
        owed = duties_due(written, lines)
        if not owed or _in_the_books(written.number) == sorted(
            ((int(due.lpa * MICRO), due.pence) for due in owed), key=_by_alcohol
        ):
            return None
        heads = (
            Head("Duty on"),
            Head("Tax type"),
            Head("Strength", "% vol", figure=True),
            Head("Alcohol", "LPA", figure=True),
            Head("Rate", "£ per LPA", figure=True),
            Head("Duty", "£", figure=True),
            Head("Source"),
        )
        shown = [_owed(line.what, due) for line, due in zip(lines, owed, strict=True)]
        if len(owed) > 1:
            lpa = sum(int(due.lpa * MICRO) for due in owed)
            known = [due.pence for due in owed if due.pence is not None]
            pounds = figures.pounds(sum(known)) if len(known) == len(owed) else "not known"
            shown.append(Line(("All", "", "", figures.lpa(lpa, 4), "", pounds, "")))
        return Result("Duty", heads, tuple(shown), "an aid: the law and the officer decide")

    return made


def _in_the_books(number: str) -> list[tuple[int, int | None]]:
    """What the books have of a record's duty as it stands now: pure alcohol and pence of each line."""
    if not number:
        return []
    standing = Duty.objects.standing().filter(movement__record_number=number).select_related("movement")
    now = [duty_now(one, one.movement) for one in standing]
    return sorted(((one.pure_ul, one.pence) for one in now), key=_by_alcohol)


def _by_alcohol(line: tuple[int, int | None]) -> tuple[int, int]:
    return line[0], line[1] or 0


def _owed(what: str, due: DutyDue) -> Line:
    rate = (
        "not known"
        if due.rate_pence_hundredths is None
        else figures.number(Decimal(due.rate_pence_hundredths) / 10_000, 2)
    )
    pence = "not known" if due.pence is None else figures.pounds(due.pence)
    lpa = figures.lpa(int(due.lpa * MICRO), 4)
    return Line((what, due.tax_type, figures.percent(due.percent), lpa, rate, pence, due.source))


def papers_asked(written: Completed, now: datetime) -> Result:
    """What the law asks to be written of goods that leave for this, and what of it stands there."""
    heads = (Head("Asked for"), Head("Found"), Head("Why"), Head("Source"))
    lines = []
    for one in asked_of(written):
        label = written.sheet.field(one.field).label
        found = written.text(one.field) or "nothing"
        lines.append(Line((label, found, one.why, one.source), None if written.has(one.field) else MISSING))
    return Result("Papers", heads, tuple(lines), said_in=1)


def reports_asked(written: Completed, now: datetime) -> Result:
    """What has to be reported of it, by whom and until when; overdue where its day is past and no word came."""
    day = site_day(written.moment("at"))
    waits = written.sheet.moments[-1].comes(written.typed) and not written.has("reported_at")
    lines = []
    for duty in to_report(written, day):
        last = duty.by_day(day)
        until = f"{duty.until}: {figures.day(last)}" if last is not None else duty.until
        late = last is not None and waits and site_day(now) > last
        lines.append(Line((duty.said, duty.by_whom, until, duty.source), OVERDUE if late else None))
    heads = (Head("To report"), Head("By whom"), Head("Until"), Head("Source"))
    note = "public holidays are not counted; the law and the officer decide"
    return Result("To be reported", heads, tuple(lines), note, said_in=2)


@dataclass(frozen=True, slots=True)
class EndToEnd:
    """Pure alcohol that was sent and that arrived, microlitres, and from which size on the two are looked into."""

    sent_ul: int
    arrived_ul: int
    threshold_ul: int

    @property
    def short_ul(self) -> int:
        """What is missing at the other end; negative where more arrived."""
        return self.sent_ul - self.arrived_ul

    @property
    def is_beyond(self) -> bool:
        """True where shortage or excess is looked into."""
        return abs(self.short_ul) > self.threshold_ul

    @property
    def said(self) -> str:
        """'2.02 LPA (0.40 %) less arrived'."""
        share = 100 * abs(self.short_ul) / self.sent_ul if self.sent_ul else 0.0
        way = "less" if self.short_ul > 0 else "more"
        return f"{figures.lpa(abs(self.short_ul))} LPA ({figures.percent(share, 2)} %) {way} arrived"


def by_strength(written: Completed, sent_ul: int) -> EndToEnd | None:
    """Both ends of bulk spirit or casks, where litres and strength were reported. Raises NoRuleInForce."""
    if not (written.has("litres_arrived") and written.has("percent_arrived")):
        return None
    arrived = written.decimal("litres_arrived") * written.decimal("percent_arrived") / 100
    rule = review_threshold(MOVEMENT, "", site_day(written.moment("at")))
    threshold = max(sent_ul * rule.threshold_millionths // ONE, rule.floor_ul)
    return EndToEnd(sent_ul, int(arrived * MICRO), threshold)


def sent_and_arrived(ends: Callable[[Completed], EndToEnd | None]) -> Makes:
    """What was sent beside what was reported to have arrived; nothing before it was reported."""

    def made(written: Completed, now: datetime) -> Result | None:
        both = ends(written)
        if both is None or not written.has("reported_at"):
            return None
        name = "Shortage" if both.short_ul >= 0 else "Excess"
        heads = (Head("Figure"), Head("Alcohol", "LPA", figure=True))
        state = State(Kind.OUT, "Beyond the review threshold") if both.is_beyond else None
        lines = (
            Line(("Sent", figures.lpa(both.sent_ul, 3))),
            Line(("Arrived, as reported", figures.lpa(both.arrived_ul, 3))),
            Line((name, figures.lpa(abs(both.short_ul), 3)), state),
        )
        note = f"review threshold {figures.lpa(both.threshold_ul)} LPA, which allows nothing"
        return Result("Sent and arrived", heads, lines, note)

    return made


def reason_for_difference(written: Completed, both: EndToEnd | None) -> list[Problem]:
    """A shortage or excess at the other end needs its reason, and the officer is told."""
    if both is None or not written.has("reported_at") or written.has("difference_reason") or not both.is_beyond:
        return []
    said = (
        f"{both.said} than was sent, beyond the review threshold: write the reason that is given for it, or that none "
        "is known, and tell the officer."
    )
    return [Problem("difference_reason", None, said)]


def results_of_leaving(lines: LinesOf, both_ends: Callable[[Completed], EndToEnd | None]) -> tuple[Makes, ...]:
    """What every record of goods that leave comes to: what leaves, its duty, papers, reports, and what arrived."""
    return (what_leaves(lines), duty_worked_out(lines), papers_asked, reports_asked, sent_and_arrived(both_ends))
