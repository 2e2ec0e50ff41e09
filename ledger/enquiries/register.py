"""The loss register of a month: every known loss, every gain, every difference with its enquiry.

Date, time, product, volume, strength and reason stand for each loss, with the persons who answer for it (GOV.UK,
Alcoholic products technical guide, section 14). Losses and gains are listed apart and never set off by adding up; the
sums by cause and by stage are those of the month's account. An entry and what takes it back within the month are both
left out, as the account leaves them out; across months both stand. Microlitres of pure alcohol.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from io import StringIO

from django.db.models import Exists, F, OuterRef, QuerySet, Sum

from distillery import tables_out
from distillery.alcoholometry.contents import litres_and_percent_of
from distillery.figures import PLAIN, litres, lpa, percent
from distillery.plant.models import MICRO
from ledger.enquiries.covering import GAUGING, GAUGING_OF, OPERATION, Share, amount_of, is_whole, shares
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.reading import Standing, of_period, standings
from ledger.models import AccountKind, Gauge, Leg, Measure, Movement
from ledger.periods.reading import bounds


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
    takes_back: bool


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


def loss_register(period: str) -> Register:
    """The register of one month; the number of queries does not depend on the month."""
    legs = list(_counted(period, AccountKind.LOSS))
    # An enquiry about a closed month may be answered, or come up again, in this one.
    answered = {leg.movement.moment for leg in legs if leg.movement.operation == OPERATION}
    rows = {one.enquiry.pk: one for one in of_period(period)}
    rows |= {one.enquiry.pk: one for one in standings(Enquiry.objects.filter(number__in=answered))}
    enquiries = [rows[number] for number in sorted(rows)]
    liquids = _liquids(legs)
    products = dict(
        EnquiryEvent.objects.filter(what=What.AGREED, movement__in={leg.movement_id for leg in legs}).values_list(
            "movement_id", "product"
        )
    )
    lines = [_line(leg, liquids.get(leg.pk), products.get(leg.movement_id, "")) for leg in legs]
    differences, within = _differences(period, enquiries)
    return Register(
        period=period,
        losses=tuple(line for line in lines if line.pure_ul > 0),
        gains=tuple(line for line in lines if line.pure_ul < 0),
        differences=tuple(differences),
        within_count=len(within),
        within_missing_ul=sum(amount for amount in within if amount > 0),
        within_extra_ul=sum(amount for amount in within if amount < 0),
        enquiries=tuple(enquiries),
    )


def _counted(period: str, kind: str) -> QuerySet[Leg]:
    """Legs on accounts of a kind, without entries taken back within the month and what took them back."""
    taken_back = Movement.objects.filter(corrects=OuterRef("movement"), period=OuterRef("period"))
    return (
        Leg.objects.filter(period=period, account__kind=kind)
        .exclude(movement__corrects__isnull=False, movement__corrects__period=F("period"))
        .filter(~Exists(taken_back))
        .select_related("account", "movement__person", "movement__second")
        .order_by("happened_at", "position", "id")
    )


def _liquids(legs: list[Leg]) -> dict[int, tuple[float, float]]:
    """Litres and % vol at 20 °C of what was lost, by leg: as measured; as the vessel it left was gauged; as booked."""
    movements = {leg.movement_id for leg in legs}
    measured = {
        (one.movement_id, one.taker_id): (one.litres20_ul / MICRO, one.percent20_millionths / MICRO)
        for one in Measure.objects.filter(movement__in=movements)
    }
    strengths = {
        (movement, account): percent20 / MICRO
        for movement, account, percent20 in Gauge.objects.filter(movement__in=movements, percent20_millionths__gt=0)
        .order_by("position")
        .values_list("movement_id", "account_id", "percent20_millionths")
    }
    found: dict[int, tuple[float, float]] = {}
    for leg in legs:
        strength = strengths.get((leg.movement_id, leg.other_id or 0))
        if (leg.movement_id, leg.account_id) in measured:
            found[leg.pk] = measured[leg.movement_id, leg.account_id]
        elif strength is not None:
            found[leg.pk] = abs(leg.pure_ul) / MICRO * 100 / strength, strength
        elif leg.pure_ul * leg.mass_g > 0:
            state = litres_and_percent_of(pure_ul=abs(leg.pure_ul), mass_g=abs(leg.mass_g))
            if state is not None:
                found[leg.pk] = state
    return found


def _line(leg: Leg, liquid: tuple[float, float] | None, product: str) -> LossLine:
    movement = leg.movement
    return LossLine(
        at=movement.took_place_at,
        written_at=movement.written_at,
        record_kind=movement.record_kind,
        record=movement.record_number,
        operation=movement.operation,
        cause=leg.account.name,
        stage=leg.stage,
        product=product or leg.stage,
        pure_ul=leg.pure_ul,
        litres20=liquid[0] if liquid else None,
        percent20=liquid[1] if liquid else None,
        reason=movement.reason or f"booked at the {movement.operation}",
        persons=tuple(one.shown_name for one in (movement.person, movement.second) if one is not None),
        enquiry=movement.moment if movement.operation == OPERATION else "",
        movement=movement.pk,
        takes_back=movement.corrects_id is not None,
    )


def _differences(period: str, enquiries: list[Standing]) -> tuple[list[DifferenceLine], list[int]]:
    """Differences that an enquiry is about, and the amounts of all the others."""
    place = {one.enquiry.number: one for one in enquiries}
    earlier = _earlier(period, [one.enquiry for one in enquiries])
    # One record may have a difference of its own and one of a vessel's gauge, each with an enquiry.
    about = {_place(one.enquiry): one for one in reversed(enquiries) if not is_whole(one.enquiry)}
    left: dict[str, int] = defaultdict(int)
    explained: dict[str, int] = defaultdict(int)
    stages: dict[str, str] = {}
    others: dict[tuple[str, str, str], int] = defaultdict(int)
    for leg in _counted(period, AccountKind.DIFFERENCE):
        movement = leg.movement
        if movement.operation == OPERATION and movement.moment in place:
            explained[movement.moment] -= leg.pure_ul
            continue
        gauging = leg.account.code if leg.account.code.startswith(GAUGING) else ""
        standing = about.get((movement.record_kind, movement.record_number, gauging))
        if standing is None:
            others[movement.record_kind, movement.record_number, leg.account.code] += leg.pure_ul
        else:
            left[standing.enquiry.number] += leg.pure_ul
            stages[standing.enquiry.number] = leg.stage
    for one in enquiries:
        if is_whole(one.enquiry):
            # What lasts is in the differences of its runs: its shares stand here, and the rest where it stood.
            for share in shares(one.enquiry, amount_of(one.enquiry), as_found=True):
                if share.run.period == period:
                    _take_out(share, about, left, others)
                    left[one.enquiry.number] += share.pure_ul
                    stages[one.enquiry.number] = share.stage
    lines = [
        DifferenceLine(
            at=one.enquiry.happened_at,
            record_kind=one.enquiry.record_kind,
            record=one.enquiry.record_number,
            operation=one.enquiry.operation,
            stage=stages.get(one.enquiry.number, ""),
            left_ul=left[one.enquiry.number],
            explained_ul=explained[one.enquiry.number],
            standing=one,
            earlier_ul=earlier.get(_place(one.enquiry), 0),
        )
        for one in sorted(enquiries, key=lambda one: (one.enquiry.happened_at, one.enquiry.pk))
        if left[one.enquiry.number] or explained[one.enquiry.number]
    ]
    return lines, [amount for amount in others.values() if amount]


def _take_out(
    share: Share,
    about: dict[tuple[str, str, str], Standing],
    left: dict[str, int],
    others: dict[tuple[str, str, str], int],
) -> None:
    kind, number = share.run.record_kind, share.run.record_number
    own = about.get((kind, number, share.account if share.account.startswith(GAUGING) else ""))
    if own is None:
        others[kind, number, share.account] -= share.pure_ul
    else:
        left[own.enquiry.number] -= share.pure_ul


def _earlier(period: str, enquiries: list[Enquiry]) -> dict[tuple[str, str, str], int]:
    """What the accounts of earlier periods bear of the records that these enquiries are about."""
    starts = bounds(period)[0]
    late = {one.record_number for one in enquiries if one.happened_at < starts}
    if not late:
        return {}
    found: dict[tuple[str, str, str], int] = defaultdict(int)
    legs = (
        Leg.objects.filter(period__lt=period, account__kind=AccountKind.DIFFERENCE, movement__record_number__in=late)
        .exclude(movement__operation=OPERATION)
        .values_list("movement__record_kind", "movement__record_number", "account__code")
        .annotate(total=Sum("pure_ul"))
        .order_by()
    )
    for kind, record, code, total in legs:
        found[kind, record, code if code.startswith(GAUGING) else ""] += total
    return found


def _place(enquiry: Enquiry) -> tuple[str, str, str]:
    return enquiry.record_kind, enquiry.record_number, _account_of(enquiry)


def _account_of(enquiry: Enquiry) -> str:
    if enquiry.operation.startswith(GAUGING_OF):
        return f"{GAUGING}{enquiry.operation.removeprefix(GAUGING_OF)}"
    return ""


CSV_COLUMNS = (
    "what",
    "happened_at",
    "written_at",
    "record",
    "operation",
    "product",
    "cause",
    "litres20",
    "percent20",
    "lpa",
    "explained_lpa",
    "reason",
    "persons",
    "enquiry",
    "state",
    "movement",
)


def as_csv(register: Register) -> str:
    """The register as comma-separated text: losses, then gains, then differences; figures plain, exact to 4 places."""
    text = StringIO()
    out = csv.writer(text, lineterminator="\r\n")
    out.writerow(CSV_COLUMNS)
    for what, lines in (("known loss", register.losses), ("gain", register.gains)):
        for line in lines:
            out.writerow(
                tables_out.row(
                    [
                        what,
                        line.at.isoformat(),
                        line.written_at.isoformat(),
                        line.record,
                        line.operation,
                        line.product,
                        line.cause,
                        "" if line.litres20 is None else litres(line.litres20, 2, PLAIN),
                        "" if line.percent20 is None else percent(line.percent20, 2, PLAIN),
                        lpa(line.pure_ul, 4, PLAIN),
                        "",
                        line.reason,
                        "; ".join(line.persons),
                        line.enquiry,
                        "",
                        line.movement,
                    ]
                )
            )
    for one in register.differences:
        decided = one.standing.decided
        out.writerow(
            tables_out.row(
                [
                    "difference",
                    one.at.isoformat(),
                    "",
                    one.record,
                    one.operation,
                    one.stage,
                    _cause(one.standing),
                    "",
                    "",
                    lpa(one.open_ul, 4, PLAIN),
                    lpa(one.explained_ul, 4, PLAIN),
                    decided.text if decided else "",
                    decided.person.shown_name if decided and decided.person else "",
                    one.standing.enquiry.number,
                    str(one.standing.state),
                    "",
                ]
            )
        )
    out.writerow(
        [
            "differences no enquiry is about",
            "",
            "",
            "",
            "",
            "",
            "",
            "",
            "",
            lpa(register.within_missing_ul + register.within_extra_ul, 4, PLAIN),
            "",
            f"{register.within_count} differences: {lpa(register.within_missing_ul, 4, PLAIN)} missing, "
            f"{lpa(abs(register.within_extra_ul), 4, PLAIN)} over",
            "",
            "",
            "",
            "",
        ]
    )
    return text.getvalue()


def _cause(standing: Standing) -> str:
    decided = standing.decided
    if decided is None or not decided.ending:
        return ""
    return decided.cause or Ending(decided.ending).label
