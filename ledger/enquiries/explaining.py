"""The entry an explanation posts: from the difference to a known loss, or back. Pure alcohol in microlitres.

The mass that goes with the alcohol is that of the liquid as stated, product and strength, by the general formula of
OIML R 22. Where the difference lies in several accounts or stages, the largest is drawn first.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from distillery import figures
from distillery.alcoholometry.quantity import Quantity, whole_grams
from distillery.alcoholometry.strength import density20_of_percent
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.rules.models import LossCause
from ledger.enquiries.balance import OPERATION, open_of
from ledger.enquiries.covering import Share, is_whole, shares
from ledger.enquiries.models import Enquiry, EnquiryEvent
from ledger.models import AccountKind
from ledger.posting.accounts import AccountRef, loss
from ledger.posting.drafts import Draft, Moved, Refused

# Decimals with which an open difference is filled in, and the fewest with which a page shows it.
PLACES = 4
FEWEST_PLACES = 2


def shown_amount(open_ul: int) -> str:
    """What is open as a form fills it in: litres of pure alcohol without a sign, to four decimals."""
    return figures.lpa(abs(open_ul), PLACES, figures.PLAIN)


def amount_meant(written: str, open_ul: int) -> int:
    """The microlitres that a figure in LPA stands for; all that is open where it is that, rounded as pages show it.

    A difference is known to the microlitre and shown with two or four decimals. Whoever writes down what was shown
    means the whole of it, whichever way it was rounded. Raises decimal.InvalidOperation where the text is no figure.
    """
    plain = written.replace(",", ".")
    places = len(plain.partition(".")[2])
    typed = Decimal(plain)
    shown = (figures.lpa(abs(open_ul), shown_with, figures.PLAIN) for shown_with in (FEWEST_PLACES, PLACES))
    if places >= FEWEST_PLACES and any(typed == Decimal(one) for one in shown):
        return abs(open_ul)
    return round(typed * MICRO)


def known_causes(on: datetime) -> list[str]:
    """The site's causes of loss that hold on a day."""
    day = site_day(on)
    return list(LossCause.objects.filter(from_day__lte=day).values_list("name", flat=True))


def explanation(enquiry: Enquiry, agreed: EnquiryEvent) -> Draft:
    """The movement of an agreed ending. The event names cause, time, product, amount and strength."""
    assert agreed.happened_at is not None
    assert agreed.percent_millionths is not None
    if agreed.percent_millionths <= 0:
        # Proposals written before the strength was looked at may say none.
        raise Refused("The strength of what was lost is nothing; send it back, and have it proposed with one.")
    percent = agreed.percent_millionths / MICRO
    missing = agreed.pure_ul > 0
    left_ul = abs(agreed.pure_ul)
    lines = []
    for part in sorted(open_of(enquiry).parts, key=lambda part: -abs(part.pure_ul)):
        if not left_ul or (part.pure_ul > 0) != missing:
            continue
        taken_ul = min(left_ul, abs(part.pure_ul))
        left_ul -= taken_ul
        known, apart = loss(agreed.cause), AccountRef(part.account, AccountKind.DIFFERENCE, part.name)
        giver, taker = (apart, known) if missing else (known, apart)
        lines.append(Moved(giver, taker, liquid(taken_ul, percent), stage=part.stage))
    return Draft(
        kind=enquiry.record_kind,
        operation=OPERATION,
        happened_at=agreed.happened_at,
        record_kind=enquiry.record_kind,
        record_number=enquiry.record_number,
        moment=enquiry.number,
        lines=tuple(lines),
        reason=f"{agreed.cause}, {agreed.product}: {agreed.text} Checked: {agreed.checked}",
    )


def explanations(enquiry: Enquiry, agreed: EnquiryEvent) -> list[Draft]:
    """What an agreed ending posts: one movement, or of what lasts one for each run, at its own time.

    A run in a closed month is carried by the books as every late entry is.
    """
    if not is_whole(enquiry):
        return [explanation(enquiry, agreed)]
    assert agreed.percent_millionths is not None
    percent = agreed.percent_millionths / MICRO
    by_run: dict[int, list[Share]] = {}
    for one in shares(enquiry, agreed.pure_ul):
        by_run.setdefault(one.run.pk, []).append(one)
    return [_of_run(enquiry, agreed, parts, percent) for parts in by_run.values()]


def _of_run(enquiry: Enquiry, agreed: EnquiryEvent, parts: list[Share], percent: float) -> Draft:
    run = parts[0].run
    lines = []
    for one in parts:
        known, apart = loss(agreed.cause), AccountRef(one.account, AccountKind.DIFFERENCE, one.name)
        giver, taker = (apart, known) if one.pure_ul > 0 else (known, apart)
        lines.append(Moved(giver, taker, liquid(abs(one.pure_ul), percent), stage=one.stage))
    return Draft(
        kind=run.record_kind,
        operation=OPERATION,
        happened_at=run.happened_at,
        record_kind=run.record_kind,
        record_number=run.record_number,
        moment=enquiry.number,
        lines=tuple(lines),
        reason=f"{agreed.cause}, {agreed.product}: {agreed.text} Checked: {agreed.checked}",
    )


def liquid(pure_ul: int, percent: float) -> Quantity:
    """So much pure alcohol as part of a liquid of this strength (% vol at 20 °C)."""
    litres20 = pure_ul / MICRO * 100 / percent
    return Quantity(
        pure_ul=pure_ul,
        mass_g=whole_grams(litres20 * density20_of_percent(percent).kg_per_m3 / 1000),
        litres20=litres20,
        percent20=percent,
        uncertainty_ul=0.0,
    )
