"""Filtration: a vat through sheets, chilled or not, back into itself or into another vat, gauged before and after.

Spirit is chilled to between −4 and 4 °C so that what would cloud it stays in the sheets; that is needed mainly below
46 % vol (common practice, no source). What the filter was measured to keep is the known loss 'filtration'; what else is
missing is the difference.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from batches.sheets import fields
from batches.sheets.cautions import STATIC, VAPOUR, Caution
from batches.sheets.results import comes_to
from batches.sheets.sheet import (
    Gauge,
    Material,
    MaterialKind,
    Moment,
    Note,
    Phase,
    Posting,
    Problem,
    Role,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Figure, against
from batches.steps.shared.judged import contents, what_left
from batches.steps.shared.site_figures import set_figure
from batches.steps.shared.still_charges import gauged, worked_out
from batches.steps.shared.vat_pictures import over_filtrations
from batches.steps.shared.vats import gave
from distillery import figures
from distillery.clock.reading import site_day
from distillery.pages import Fact
from distillery.process.reducing import known_loss_lpa
from distillery.rules.in_force import NoRuleInForce
from ledger.posting.accounts import difference, gauging, loss
from ledger.posting.drafts import FigureTaken, Line

OPERATION: Final = "filtration"
CHILL, PLAIN = "chill", "plain"
# What went back into its own vat is mixed with what stayed: all that the vat holds then is what this filtration made.
THROUGH: Final = "contents before filtering"
UNCLOUDED: Final = "strength needing no chill filtration"
COLD_AND_PRESSURE: Final = Caution(
    "cold spirit under pressure",
    "Cold pipes burn skin, and a filter under pressure sprays when it is opened: let the pressure off, wear gloves and "
    "eye protection, and catch what drips.",
)


def filtered(written: Completed) -> Posting:
    """The vat before, what the filter was measured to keep, the vat after, and the vat it went into."""
    vat = written.vessel("vat")
    lines: list[Line | None] = [written.taken("vat_before", gauging(vat))]
    into = written.has("into")
    if into:
        lines.append(written.taken("into_before", gauging(written.vessel("into"))))
    if written.has("kept_litres"):
        taker = loss("filtration")
        lines.append(written.residue("kept_litres", "kept_percent", giver=written.account("vat"), taker=taker))
    lines.append(written.taken("vat_after", difference(OPERATION), stage=vat.stage))
    if into:
        lines.append(written.taken("into_after", difference(OPERATION), stage=vat.stage))
        judged = what_left(written, "what left the vat", ("vat_before", "vat_after"))
    else:
        judged = contents(written, THROUGH, "vat_before")
    return Posting(tuple(lines), figures=compared(written), judged=judged)


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """The strength after it beside the strength before, where nothing else was in what it went into."""
    found = Compared(written.moment("at"))
    after = "into_after" if written.has("into") else "vat_after"
    if after == "into_after" and written.quantity("into_before").pure_ul:
        return found.figures

    def strength() -> tuple[Figure, float]:
        gauges = (written, "vat_before"), (written, after)
        return against(lambda before, held: held.percent, lambda before, held: before.percent, *gauges)

    found.with_reading("strength after filtering", strength, field=f"{after}_hydrometer_percent", unit="% vol")
    return found.figures


TOGETHER: Final = (("kept_litres", "kept_percent"), ("sheet_lot", "sheets_used"), ("litres_in", "litres_out"))
OF_INTO: Final = ("into_before_dip_mm", "into_after_dip_mm")


def to_be_right(written: Completed) -> list[Problem]:
    """What says something only together, and a vat that it went into with both its gauges."""
    problems = [
        Problem(
            blank,
            None,
            f"{written.sheet.field(blank).label} is blank, but {written.sheet.field(there).label.lower()} is written; "
            "write both.",
        )
        for one, other in TOGETHER
        for there, blank in ((one, other), (other, one))
        if written.has(there) and not written.has(blank)
    ]
    if not written.has("into"):
        return problems + [
            Problem("into", None, "A second vat is gauged, but not named; say into which it went.")
            for name in OF_INTO[:1]
            if written.has(name)
        ]
    if written.vessel("into") == written.vessel("vat"):
        said = f"Into is {written.vessel('vat').code}, the vat it came from; leave it blank where it went back."
        return [*problems, Problem("into", None, said)]
    return problems + [
        Problem(name, None, f"{written.sheet.field(name).label} is blank; gauge {written.vessel('into').code}.")
        for name in OF_INTO
        if not (written.has(name) or written.is_missing(name))
    ]


def to_look_at(written: Completed) -> list[Note]:
    """Spirit chilled that would not have clouded."""
    if written.gauge_is_missing("vat_before"):
        return []
    percent = written.quantity("vat_before").percent20
    try:
        clear_from = set_figure(UNCLOUDED, site_day(written.moment("at")))
    except NoRuleInForce:
        return []
    if written.text("way") != CHILL or percent < clear_from:
        return []
    said = f"The vat is at {figures.percent(percent)} % vol; chilling is needed mainly below {clear_from:g} % vol."
    return [Note("way", None, said)]


def facts(written: Completed, now: datetime) -> list[Fact]:
    """What the filter kept by its meters, what was booked of it, and what is missing besides."""
    return worked_out((lambda: _by_meters(written), lambda: _kept(written), lambda: _missing(written)))


def _by_meters(written: Completed) -> Iterable[Fact]:
    if written.has("litres_in") and written.has("litres_out"):
        went_in, came_out = written.real("litres_in"), written.real("litres_out")
        kept = known_loss_lpa(litres_in=went_in, litres_out=came_out, percent20=gauged(written, "vat_before").percent20)
        note = f"{figures.litres(went_in)} L in, {figures.litres(came_out)} L out, at the strength of the vat before"
        yield Fact("Kept by the meters", figures.number(kept, 2), "LPA", note=f"{note}; posted only where measured")


def _kept(written: Completed) -> Iterable[Fact]:
    if written.has("kept_litres") and written.has("kept_percent"):
        yield Fact("Kept by the filter", figures.number(_booked(written), 2), "LPA", note="known loss: filtration")


def _missing(written: Completed) -> Iterable[Fact]:
    before = gauged(written, "vat_before").lpa
    if written.has("into"):
        of = gave(written, "vat_before", "vat_after").lpa
        left = of - (gauged(written, "into_after").lpa - gauged(written, "into_before").lpa)
    else:
        of, left = before, before - gauged(written, "vat_after").lpa
    rest = left - _booked(written)
    way = "missing" if rest >= 0 else "over"
    note = f"of {figures.number(of, 2)} LPA filtered, {figures.number(abs(rest), 2)} LPA {way} beside the known loss"
    yield Fact("Difference", figures.percent(abs(100.0 * rest / of), 2), f"% {way}", note=note)


def _booked(written: Completed) -> float:
    if not (written.has("kept_litres") and written.has("kept_percent")):
        return 0.0
    return written.real("kept_litres") * written.real("kept_percent") / 100.0


SHEET = Sheet(
    kind="filtration",
    title="Filtration",
    plural="Filtrations",
    operation=OPERATION,
    table="filtrations",
    prefix="FI",
    number_column="filtration",
    moments=(Moment(name="filtered", label="Filtration", when="at", phase=Phase.MOVE, post=filtered),),
    sections=(
        Section(
            heading="Vat",
            items=(
                fields.when("at", "Filtered at"),
                fields.vessel("vat", "Vat", *fields.DIPPED),
                Gauge(prefix="vat_before", label="Vat before", vessel="vat", role=Role.BEFORE),
                Gauge(prefix="vat_after", label="Vat after", vessel="vat", role=Role.AFTER),
            ),
        ),
        Section(
            heading="Into another vat",
            items=(
                fields.vessel("into", "Into", *fields.DIPPED, required=False),
                Gauge(prefix="into_before", label="Into before", vessel="into", role=Role.BEFORE, optional=True),
                Gauge(prefix="into_after", label="Into after", vessel="into", role=Role.AFTER, optional=True),
            ),
        ),
        Section(
            heading="Filter",
            items=(
                fields.text("way", "Filtered", choices=(CHILL, PLAIN), longest=20),
                fields.celsius("filter_celsius", "Temperature at the filter", usual=("-4", "25"), required=False),
                fields.number("filter_bar", "Pressure", "bar", usual=("0.2", "4"), high="20", required=False),
                fields.name("sheet_lot", "Lot of filter sheets", lot=True, required=False),
                fields.count("sheets_used", "Filter sheets used", required=False),
                fields.litres("litres_in", "Litres in, at 20 °C", required=False),
                fields.litres("litres_out", "Litres out, at 20 °C", required=False),
                fields.litres("kept_litres", "Kept by the filter", required=False, help="Only what was measured."),
                fields.percent("kept_percent", "Strength of what it kept", required=False),
            ),
        ),
    ),
    cautions=(COLD_AND_PRESSURE, VAPOUR, STATIC),
    list_columns=("at", "vat", "into", "way", "filter_celsius"),
    after="reduction",
    works_judged=THROUGH,
    materials=(Material(field="sheet_lot", counted="sheets_used", kind=MaterialKind.FILTER_SHEET),),
    printed_title="Filtration",
    check=to_be_right,
    note=to_look_at,
    results=(comes_to(facts),),
    pictures=over_filtrations,
)
