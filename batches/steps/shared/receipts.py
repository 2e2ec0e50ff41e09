"""What was sent beside what arrived, what has to be reported of it, and what its certificate proves.

Litres and strengths at 20 °C, pure alcohol in litres. A shortage is positive, as every difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from batches.sheets import fields
from batches.sheets.results import Head, Line, Result, checks_of
from batches.sheets.sheet import Field, Note, Problem, Section
from batches.sheets.typed.completed import Completed, Written
from batches.sheets.typed.values import Ungaugeable
from distillery import figures
from distillery.alcoholometry.quantity import Quantity
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.process.maturing import beside_document
from distillery.process.product_names import Evidence, check
from distillery.rules.in_force import review_threshold
from distillery.rules.models import ONE
from distillery.rules.names import AGRICULTURAL_ALCOHOL, duties, requirements
from ledger.posting.accounts import source
from ledger.posting.boundary import RECEIVED_UNDER_BOND

OPERATION: Final = "receipt under bond"
UNDER_BOND: Final = RECEIVED_UNDER_BOND
BROKEN: Final = "broken or missing"
SENT: Final = (
    fields.litres("consignor_litres", "Litres sent", usual=("50", "30000")),
    fields.percent("consignor_percent", "Strength sent", usual=("35", "97"), decimals=2),
    fields.number("consignor_lpa", "Pure alcohol sent", "LPA", decimals=2, required=False),
)
REPORTED: Final = Section(
    heading="Report of receipt",
    moment="reported",
    items=(
        fields.when("reported_at", "Reported at", not_before="received_at"),
        fields.text("report_reference", "Reference of the report", longest=60, required=False),
        fields.text("difference_reason", "Reason given for shortage or excess", required=False),
    ),
)
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
    """What was sent by the document, and what the gauges on arrival find more: litres at 20 °C, microlitres of pure
    alcohol. Volumes of spirits of other strengths do not quite add up."""

    sent_litres: float
    sent_ul: int
    litres: float
    arrived_ul: int

    @property
    def short_ul(self) -> int:
        """What is missing; negative where more arrived than was sent."""
        return self.sent_ul - self.arrived_ul

    @property
    def sent_percent(self) -> float:
        """The strength of what was sent, % vol."""
        return self.sent_ul / MICRO * 100 / self.sent_litres if self.sent_litres > 0 else 0.0


def arrived(written: Completed) -> Arrived:
    """Both figures of a receipt: into a tank, or in casks. Raises Ungaugeable where one of them is not there."""
    if not written.sheet.has_field("tank"):
        each = [arrived_in(line) for line in written.rows]
        litres, ul = sum(one.sent_litres for one in each), sum(one.sent_ul for one in each)
        return Arrived(litres, ul, sum(one.litres for one in each), sum(one.arrived_ul for one in each))
    before, after = written.quantity("tank_before"), written.quantity("tank_after")
    sent = _sent(written, "tank")
    return Arrived(sent.litres20, sent.pure_ul, after.litres20 - before.litres20, after.pure_ul - before.pure_ul)


def arrived_in(line: Written) -> Arrived:
    """Both figures of one cask that came full. Raises Ungaugeable."""
    sent, found = _sent(line, "cask"), line.quantity("")
    return Arrived(sent.litres20, sent.pure_ul, found.litres20, found.pure_ul)


def _sent(written: Written, vessel: str) -> Quantity:
    bond = source(UNDER_BOND)
    sent = written.declared("consignor_litres", "consignor_percent", giver=bond, taker=written.account(vessel))
    if sent is None:
        raise Ungaugeable("consignor_litres", "What was sent is marked missing.")
    return sent.quantity


def stated_otherwise(written: Written, row: int | None = None) -> list[Note]:
    """Pure alcohol that the document states and that is not its litres at its strength."""
    if not all(written.has(one.name) for one in SENT):
        return []
    both = beside_document(
        litres=written.real("consignor_litres"),
        percent=written.real("consignor_percent"),
        stated_lpa=written.real("consignor_lpa"),
    )
    if both.agrees:
        return []
    said = (
        f"the document says {figures.number(both.stated_lpa, 1)} LPA, but its litres at its strength are "
        f"{figures.number(both.lpa, 1)}."
    )
    return [Note("consignor_lpa", row, said)]


def reason_given(written: Completed) -> list[Problem]:
    """A report of receipt with a shortage or excess needs its reason."""
    if not written.has("reported_at") or written.has("difference_reason") or not beyond_threshold(written):
        return []
    said = short_or_over(arrived(written))
    return [
        Problem(
            "difference_reason",
            None,
            f"{said[:1].upper()}{said[1:]} than the consignor says, beyond the review threshold: write the reason that "
            "is given for it, or that none is known.",
        )
    ]


def seals_broken(written: Completed) -> list[Note]:
    """Signs that somebody was at the goods."""
    if written.text("seals") != BROKEN:
        return []
    said = "the seals were broken or missing: tell the officer at once and keep the goods as they are."
    return [Note("seals", None, said)]


def threshold_ul(written: Completed, sent_ul: int) -> int:
    """From which size on a shortage or excess is looked into, at the tank or ('') any. Raises NoRuleInForce."""
    vessel = written.vessel("tank").code if written.sheet.has_field("tank") else ""
    rule = review_threshold(OPERATION, vessel, site_day(written.moment("received_at")))
    return max(sent_ul * rule.threshold_millionths // ONE, rule.floor_ul)


def beyond_threshold(written: Completed) -> bool:
    """True where a shortage or excess is to be looked into."""
    both = arrived(written)
    return abs(both.short_ul) > threshold_ul(written, both.sent_ul)


def short_or_over(both: Arrived) -> str:
    """'20.10 LPA (0.40 %) less arrived'."""
    share = 100 * abs(both.short_ul) / both.sent_ul if both.sent_ul else 0.0
    way = "less" if both.short_ul > 0 else "more"
    return f"{figures.lpa(abs(both.short_ul))} LPA ({figures.percent(share, 2)} %) {way} arrived"


def what_arrived(written: Completed, now: datetime) -> Result | None:
    """The document beside the gauge; nothing before a cask is written."""
    both = arrived(written)
    if not both.sent_ul and not both.arrived_ul:
        return None
    threshold = threshold_ul(written, both.sent_ul)
    name = "Shortage" if both.short_ul >= 0 else "Excess"
    share = 100 * abs(both.short_ul) / both.sent_ul if both.sent_ul else 0.0
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
        _line("Sent, by the document", both.sent_litres, both.sent_percent, both.sent_ul, ""),
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


def delivered(*spirits: str) -> tuple[Field, ...]:
    """What is written of a delivery of spirit: who sent it under which document, and the state of its seals."""
    return (
        fields.when("received_at", "Received at"),
        fields.name("consignor", "Consignor"),
        fields.text("consignor_address", "Consignor's address", longest=200, required=False),
        fields.name("document", "Document", found_as="document"),
        fields.name("lot", "Lot", lot=True, help="The consignor's own number of what was sent."),
        fields.text("spirit", "Spirit", choices=spirits, longest=60),
        fields.text("seals", "Seals", choices=("intact", BROKEN, "none fitted"), longest=40, required=False),
    )


def _line(name: str, litres: float, percent: float, pure_ul: int, share: str) -> Line:
    return Line((name, figures.litres(litres), figures.percent(percent, 2), figures.lpa(pure_ul), share))
