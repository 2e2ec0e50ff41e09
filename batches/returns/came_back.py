"""Goods whose duty was paid and that came back into suspension: spoilt product, and drawback on the rest.

Both are lines of the return of the month in which they came back (HMRC, description of the figures that the Alcohol
Duty return carries, 2025-26; GOV.UK, Alcoholic products technical guide, section 15 for spoilt product). The rate is
that at which duty was paid, which only the removal they left by can say. Microlitres at 20 °C, pence.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from batches.models import Record
from batches.returns.duty_lines import duty_at
from batches.returns.months import Span, month_of
from batches.sheets.comes_back import ComesBack
from batches.sheets.register import all_sheets
from batches.sheets.site import Site
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.rules.in_force import duty_lpa
from ledger.models import Duty, Leg
from ledger.posting.accounts import source
from ledger.posting.boundary import RETURNED_DUTY_PAID
from ledger.posting.duties import duty_now

CENTILITRES_A_LITRE = 100
RATE_NOT_SAID = "At which rate duty was paid is not known: write on the record by which removal they had left."


@dataclass(frozen=True, slots=True)
class BackLine:
    """What came back of one record, spoilt or not; rate and pence None where the rate is not known, and `why`.

    `of` is the month in which it came back, an earlier one where this is what was put right of it later.
    """

    record_kind: str
    record: str
    of: str
    claim: str
    tax_type: str
    litres20_ul: int
    percent: Decimal
    pure_ul: int
    rate: int | None
    pence: int | None
    why: str
    movements: Mapping[int, int]


def came_back(span: Span) -> tuple[list[BackLine], list[BackLine]]:
    """Spoilt product, and goods on whose duty drawback is claimed, of a month."""
    legs = Leg.objects.filter(span.holds(), account__code=source(RETURNED_DUTY_PAID).code)
    came: dict[tuple[str, str], int] = defaultdict(int)
    moved: dict[tuple[str, str], list[int]] = defaultdict(list)
    late: dict[tuple[str, str], str] = {}
    rows = legs.values_list(
        "movement__record_kind", "movement__record_number", "movement_id", "movement__true_at"
    ).annotate(Sum("pure_ul"))
    for kind, number, movement, true_at, pure_ul in rows.order_by("movement_id"):
        came[kind, number] -= pure_ul
        moved[kind, number].append(movement)
        if true_at is not None:
            late[kind, number] = month_of(true_at)
    backs = {sheet.kind: sheet.comes_back for sheet in all_sheets() if sheet.comes_back is not None}
    site, spoilt, drawback = Site(), [], []
    records = {
        (one.kind, one.number): one
        for one in Record.objects.filter(kind__in=backs, number__in={number for _, number in came})
    }
    for place, pure_ul in came.items():
        record, declared = records.get(place), backs.get(place[0])
        if record is None or declared is None or not pure_ul:
            continue
        whole, wasted = _lines(record, declared, site.typed_of(record), pure_ul, late.get(place, ""), moved[place])
        spoilt += [wasted] if wasted is not None else []
        drawback += [whole] if whole is not None else []
    return spoilt, drawback


def _lines(
    record: Record, declared: ComesBack, typed: Mapping[str, str], pure_ul: int, late: str, movements: list[int]
) -> tuple[BackLine | None, BackLine | None]:
    bottles = int(typed.get(declared.bottles) or 0)
    size, percent = Decimal(typed[declared.centilitres]) / CENTILITRES_A_LITRE, Decimal(typed[declared.percent])
    bottle_ul = int(size * percent / 100 * MICRO)
    # What was put right in a later month is whole bottles more or fewer, and none of them is said to be spoilt.
    count = bottles if not late else round(pure_ul / bottle_ul)
    wasted = int(typed.get(declared.spoilt) or 0) if not late else 0
    tax_type, rate = _paid(typed.get(declared.removal, ""))
    day = site_day(record.happened_from)

    def line(number: int) -> BackLine | None:
        if not number:
            return None
        litres = number * size
        sign = -1 if number < 0 else 1
        alcohol = sign * int(duty_lpa(abs(litres), percent) * MICRO)
        return BackLine(
            record_kind=record.kind,
            record=record.number,
            of=late or f"{day:%Y-%m}",
            claim=typed.get(declared.claim, ""),
            tax_type=tax_type,
            litres20_ul=int(litres * MICRO),
            percent=percent,
            pure_ul=alcohol,
            rate=rate,
            pence=None if rate is None else duty_at(alcohol, rate, record.happened_from),
            why=RATE_NOT_SAID if rate is None else "",
            # What put it right stands with what it put right; the last of them says what came of it.
            movements=dict.fromkeys(movements, 0) | {movements[-1]: alcohol},
        )

    return line(count - wasted), line(wasted)


def _paid(removal: str) -> tuple[str, int | None]:
    """Tax type and rate of the duty on a removal, by its number as typed; no rate where it is not said or not known."""
    if not removal:
        return "", None
    row = Duty.objects.standing().filter(movement__record_number__iexact=removal).select_related("movement").first()
    if row is None:
        return "", None
    now = duty_now(row, row.movement)
    return now.tax_type, now.rate_pence_hundredths
