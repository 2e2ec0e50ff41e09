"""What was sent beside what arrived, what has to be reported of it, and what its certificate proves.

Litres and strengths at 20 °C, pure alcohol in litres. A shortage is positive, as every difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from batches.sheets.results import Head, Line, Result, checks_of
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from distillery import figures
from distillery.alcoholometry.quantity import Quantity
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.process.product_names import Evidence, check
from distillery.rules.in_force import review_threshold
from distillery.rules.models import ONE
from distillery.rules.names import AGRICULTURAL_ALCOHOL, duties, requirements
from ledger.posting.accounts import source

OPERATION: Final = "receipt under bond"
ALWAYS, DIFFERS, TAMPERED = "always", "shortage or excess", "signs of loss or tampering"
# What a certificate says of each measure, by the fields of its sheet.
CERTIFIED: Final = {
    "base strength": "distilled_percent",
    "base origin": "origin",
    "methanol": "methanol_g_per_hl",
    "acidity": "acidity_g_per_hl",
    "esters": "esters_g_per_hl",
    "aldehydes": "aldehydes_g_per_hl",
    "higher alcohols": "higher_alcohols_g_per_hl",
    "dry extract": "dry_extract_g_per_hl",
    "nitrogen bases": "nitrogen_bases_g_per_hl",
    "furfural": "furfural",
}


@dataclass(frozen=True, slots=True)
class Arrived:
    """What was sent by the document, and the tank before and after."""

    sent: Quantity
    before: Quantity
    after: Quantity

    @property
    def arrived_ul(self) -> int:
        """Pure alcohol that the gauge finds more in the tank, microlitres."""
        return self.after.pure_ul - self.before.pure_ul

    @property
    def short_ul(self) -> int:
        """What is missing; negative where more arrived than was sent."""
        return self.sent.pure_ul - self.arrived_ul

    @property
    def litres(self) -> float:
        """What the gauge finds more in the tank; volumes of spirits of other strengths do not quite add up."""
        return self.after.litres20 - self.before.litres20


def arrived(written: Completed) -> Arrived:
    """Both figures of a receipt. Raises Ungaugeable where one of them is not there."""
    bond = source("received under bond")
    sent = written.declared("consignor_litres", "consignor_percent", giver=bond, taker=written.account("tank"))
    if sent is None:
        raise Ungaugeable("consignor_litres", "What was sent is marked missing.")
    return Arrived(sent.quantity, written.quantity("tank_before"), written.quantity("tank_after"))


def threshold_ul(written: Completed, sent: Quantity) -> int:
    """From which size on a shortage or excess is looked into. Raises NoRuleInForce."""
    rule = review_threshold(OPERATION, written.vessel("tank").code, site_day(written.moment("received_at")))
    return max(sent.pure_ul * rule.threshold_millionths // ONE, rule.floor_ul)


def beyond_threshold(written: Completed) -> bool:
    """True where a shortage or excess is to be looked into."""
    both = arrived(written)
    return abs(both.short_ul) > threshold_ul(written, both.sent)


def short_or_over(both: Arrived) -> str:
    """'20.10 LPA (0.40 %) less arrived'."""
    share = 100 * abs(both.short_ul) / both.sent.pure_ul if both.sent.pure_ul else 0.0
    way = "less" if both.short_ul > 0 else "more"
    return f"{figures.lpa(abs(both.short_ul))} LPA ({figures.percent(share, 2)} %) {way} arrived"


def what_arrived(written: Completed, now: datetime) -> Result:
    """The document beside the gauge."""
    both = arrived(written)
    threshold = threshold_ul(written, both.sent)
    name = "Shortage" if both.short_ul >= 0 else "Excess"
    share = 100 * abs(both.short_ul) / both.sent.pure_ul if both.sent.pure_ul else 0.0
    found = both.arrived_ul / MICRO / both.litres * 100 if both.litres > 0 else 0.0
    judged = "beyond" if abs(both.short_ul) > threshold else "within"
    heads = (
        Head("Figure"),
        Head("Volume", "L at 20 °C", figure=True),
        Head("Strength", "% vol at 20 °C", figure=True),
        Head("Alcohol", "LPA", figure=True),
        Head("Of what was sent", "%", figure=True),
    )
    lines = (
        _line("Sent, by the document", both.sent.litres20, both.sent.percent20, both.sent.pure_ul, ""),
        _line(
            "Arrived, by the gauge",
            both.litres,
            found,
            both.arrived_ul,
            figures.percent(100 - share if both.short_ul >= 0 else 100 + share, 2),
        ),
        Line((name, "", "", figures.lpa(abs(both.short_ul)), figures.percent(share, 2))),
    )
    note = f"{judged} the review threshold of {figures.lpa(threshold)} LPA, which allows nothing"
    return Result("Sent and arrived", heads, lines, note)


def what_to_report(written: Completed, now: datetime) -> Result:
    """What has to be reported of this receipt, by whom and until when, as the law stood on its day."""
    day = site_day(written.moment("received_at"))
    occasions = [ALWAYS]
    if beyond_threshold(written):
        occasions.append(DIFFERS)
    if written.text("seals").startswith("broken"):
        occasions.append(TAMPERED)
    heads = (Head("To report"), Head("By whom"), Head("Until"), Head("Source"))
    lines = []
    for duty in duties(OPERATION, day, *occasions):
        last = duty.by_day(day)
        until = f"{duty.until}: {figures.day(last)}" if last is not None else duty.until
        lines.append(Line((duty.said, duty.by_whom, until, duty.source)))
    note = "public holidays are not counted; the law and the officer decide"
    return Result("To be reported", heads, tuple(lines), note)


def certified(written: Completed, now: datetime) -> Result | None:
    """What the certificate proves of ethyl alcohol of agricultural origin; nothing for other spirit."""
    known = {}
    for measure, name in CERTIFIED.items():
        if written.has(name):
            value = written.text(name) if name in ("origin", "furfural") else written.real(name)
            known[measure] = [Evidence(value, f"certificate {written.text('certificate')}".strip())]
    if not known and written.text("spirit") != "neutral spirit":
        return None
    asked = requirements(AGRICULTURAL_ALCOHOL, site_day(written.moment("received_at")))
    heading = f"{AGRICULTURAL_ALCOHOL[:1].upper()}{AGRICULTURAL_ALCOHOL[1:]}"
    return checks_of(heading, check(asked, known), "what is not on the certificate is not proven")


def _line(name: str, litres: float, percent: float, pure_ul: int, share: str) -> Line:
    return Line((name, figures.litres(litres), figures.percent(percent, 2), figures.lpa(pure_ul), share))
