"""Bottling: a vat into bottles, counted; the bottles hold what their label says.

Label strength has at most one decimal and is declared at 20 °C; contents are meant to average at least the nominal
(packaged goods, average system). What is sampled at the line leaves as samples; what is poured back is in the vat's
gauge after. What else is missing is the loss of the line.
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import GLASS, VAPOUR
from batches.sheets.results import Result, comes_to
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
from batches.steps.shared.ages import age_shown, statement_checked, statement_shown, youngest_of
from batches.steps.shared.bottle_checks import CHECKS, checks_are_whole, mean_fill_ml, mean_strength, nominal_ml
from batches.steps.shared.bottling_line import (
    NO,
    YES,
    bottled_lpa,
    label_and_size,
    line_facts,
    packers_rules,
    poured_lpa,
    unlike_its_label,
)
from batches.steps.shared.bottling_pictures import checks_against_time
from batches.steps.shared.figures import Compared, Figure, Held, against
from batches.steps.shared.judged import what_left
from batches.steps.shared.names import MARKET, checked_name, name_failed, name_meant, needs_of_name, no_rules_of_market
from batches.steps.shared.stock import STOCK_FIELDS, bottles_moved, stock_account
from distillery.clock.reading import site_day
from distillery.process.ageing import Age
from distillery.process.product_names import Checked, Evidence, Outcome
from distillery.rules.in_force import review_threshold
from distillery.rules.models import ONE
from distillery.rules.names import HOME_MARKET, name_in_market, requirements
from ledger.posting.accounts import difference, gauging, removal
from ledger.posting.drafts import FigureTaken

PERCENT = ("36", "65")
# The names of spirits that a bottling may bear; what each asks for, the site's dated rules say.
NAMES = ("gin", "distilled gin", "London gin", "vodka", "whisky", "Scotch whisky", "single malt Scotch whisky")
# Markets with rules of their own as a site starts; another is typed, once its rules are entered.
MARKETS = (HOME_MARKET, "NI and EU")
# What any spirit has to be that bears no name of its own.
SPIRIT_DRINK = "spirit drink"
BOTTLED_STRENGTH = "bottled strength"
ADDED = "added to spirit"
# What may be added to whisky, and the rest: Scotch Whisky Regulations 2009, regulation 3(1)(h).
ADDITIONS = ("nothing", "water", "plain caramel", "water and plain caramel", "something else")
STATED = "stated_years"
SAMPLES = "samples"


def bottled(written: Completed) -> Posting:
    """The vat before, the bottles, the samples, the vat after."""
    vat = written.account("vat")
    sampled = (
        (written.residue("samples_litres", "samples_percent", giver=vat, taker=removal(SAMPLES)),)
        if written.has("samples_litres")
        else ()
    )
    return Posting(
        (
            written.taken("vat_before", gauging(written.vessel("vat"))),
            bottles_moved(written, vat, stock_account(written)),
            *sampled,
            written.taken("vat_after", difference("bottling")),
        ),
        figures=compared(written),
        judged=what_left(written, "what left the vat", ("vat_before", "vat_after")),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """The bottles beside the vat's drop, and what was measured of them beside their label."""
    at = written.moment("at")
    day = site_day(at)
    bottled = bottled_lpa(written)
    sampled = poured_lpa(written, "samples_litres", "samples_percent")

    def bottles() -> tuple[Figure, float]:
        def of_the_drop(before: Held, after: Held) -> float:
            return 100.0 * bottled / (before.lpa - after.lpa - sampled)

        rule = review_threshold("bottling", written.vessel("vat").code, day)
        usual = 100.0 - 100.0 * rule.usual_millionths / ONE
        gauges = (written, "vat_before"), (written, "vat_after")
        # The operation's balance holds these readings already.
        figure, expected = against(of_the_drop, lambda before, after: usual, *gauges)
        return figure.loose, expected

    found = Compared(at)
    found.with_reading("bottles beside the drop of the vat", bottles, field="bottles", unit="%")
    if (fill := mean_fill_ml(written)) is not None:
        nominal = nominal_ml(written)
        found.with_reading("mean fill", lambda: (Figure(fill), nominal), field="mean_fill_millilitres", unit="mL")
    if (strength := mean_strength(written)) is not None:
        label = written.real("label_percent")
        found.with_reading(
            "mean strength beside the label",
            lambda: (Figure(strength), label),
            field="mean_strength_percent",
            unit="% vol",
        )
    return found.figures


TOGETHER = (
    ("bottle_lot", "bottles_used"),
    ("closure_lot", "closures_used"),
    ("samples_litres", "samples_percent"),
    ("returned_litres", "returned_percent"),
)


def written_whole(written: Completed) -> list[Problem]:
    """What says something only together: a lot and how many of it were used, litres and their strength."""
    problems = list(checks_are_whole(written))
    for one, other_one in TOGETHER:
        for there, blank in ((one, other_one), (other_one, one)):
            if written.has(there) and not written.has(blank):
                label, other = written.sheet.field(blank).label, written.sheet.field(there).label
                problems.append(Problem(blank, None, f"{label} is blank, but {other.lower()} is written; write both."))
    return problems


def name_checked(written: Completed) -> list[Checked]:
    """What the name on the label asks for: the strength it is bottled at, and what it was made from."""
    this = written.number or "this bottling"
    percents = [written.real("label_percent")] if written.has("label_percent") else []
    if (measured := mean_strength(written)) is not None:
        percents.append(measured)
    own = {BOTTLED_STRENGTH: [Evidence(one, this, 1.0 / len(percents)) for one in percents]}
    if written.text("macerated") == YES:
        own[ADDED] = [Evidence("macerated fruit or plants", this)]
    elif written.has("added_to_spirit"):
        own[ADDED] = [Evidence(written.text("added_to_spirit"), this)]
    return checked_name(written, at=written.moment("at"), source="vat", own=own)


def age_of(written: Completed) -> Age | None:
    """The age of the youngest in the vat."""
    return youngest_of(written, at=written.moment("at"), vessels=[written.vessel("vat")])


def age(written: Completed, now: datetime) -> Result | None:
    """The age of the youngest that is bottled; nothing for spirit that never was in wood, as gin."""
    found = age_of(written)
    return age_shown(found, written.moment("at")) if found is not None and found.in_wood else None


def age_on_the_label(written: Completed, now: datetime) -> Result | None:
    """Whether the age on the label may stand there; nothing where none is stated."""
    if not written.has(STATED):
        return None
    return statement_shown(written.whole(STATED), age_of(written), written.moment("at"))


def too_old_on_the_label(written: Completed) -> list[Note]:
    """An age on the label that the youngest does not have, or is not proven to have."""
    if not written.has(STATED):
        return []
    found = statement_checked(written.whole(STATED), age_of(written), written.moment("at"))
    if found.outcome == Outcome.PASS:
        return []
    said = "Hold: the age on the label" if found.outcome == Outcome.FAIL else "The age on the label"
    word = "is not that of the youngest" if found.outcome == Outcome.FAIL else "is not proven"
    return [Note(STATED, None, f"{said} {word}: {found.found}.")]


def name_needs(written: Completed, now: datetime) -> Result | None:
    """The checks of the name as they are shown."""
    return needs_of_name(name_meant(written), name_checked(written))


def held(written: Completed) -> list[Note]:
    """What stands against the name on the label, and what else is not as the label says."""
    failed = name_failed(name_meant(written), name_checked(written))
    unknown = no_rules_of_market(written, written.moment("at"), written.text("legal_name") or SPIRIT_DRINK)
    return [*failed, *unknown, *too_old_on_the_label(written), *unlike_its_label(written)]


def too_weak_for_its_name(written: Completed) -> list[Note]:
    """A label below the strength that the law asks of its name, or of any spirit drink. It is kept where whoever writes
    is sure, since a bottling that was done has to stand in the books."""
    name = name_in_market(written.text("legal_name") or SPIRIT_DRINK, written.text(MARKET))
    label = written.real("label_percent")
    return [
        Note(
            "label_percent",
            None,
            f"Strength on the label is {label:g} % vol, but {name} is bottled at {limit:g} % vol or more "
            f"({one.code}: {one.source}). Do not send it out under that name: put it back and bottle it stronger, or "
            "label it with a name that it may bear.",
        )
        for one in requirements(name, site_day(written.moment("at")))
        if one.measure == BOTTLED_STRENGTH and (limit := one.limit) is not None and label < limit
    ]


SHEET = Sheet(
    kind="bottling",
    title="Bottling",
    plural="Bottlings",
    operation="bottling",
    table="bottlings",
    prefix="BO",
    number_column="bottling",
    moments=(Moment(name="bottled", label="Bottling", when="at", phase=Phase.MOVE, post=bottled),),
    sections=(
        Section(
            heading="Lot",
            items=(
                fields.when("at", "Bottled at"),
                fields.vessel("vat", "Vat", *fields.DIPPED),
                fields.name("lot_code", "Lot code", lot=True),
                *STOCK_FIELDS,
                fields.text(
                    "legal_name",
                    "Legal name",
                    choices=NAMES,
                    longest=60,
                    required=False,
                ),
                fields.text(MARKET, "Market it is made for", choices=MARKETS, longest=40, required=False),
                fields.count(STATED, "Age stated on the label", unit="years", usual=("3", "60"), required=False),
                fields.text("added_to_spirit", "Added to the spirit", choices=ADDITIONS, longest=60, required=False),
                fields.text("macerated", "Macerated fruit or plants", choices=(YES, NO), longest=3, required=False),
                fields.count("bottles_a_case", "Bottles in a case", usual=("1", "60"), required=False),
                fields.text("lot_on_bottles", "Lot code on bottles", choices=(YES, NO), longest=3, required=False),
                fields.text("lot_on_cases", "Lot code on cases", choices=(YES, NO), longest=3, required=False),
            ),
        ),
        Section(
            heading="Vat",
            items=(
                Gauge(prefix="vat_before", label="Vat before", vessel="vat", role=Role.BEFORE, usual_percent=PERCENT),
                Gauge(prefix="vat_after", label="Vat after", vessel="vat", role=Role.AFTER, usual_percent=PERCENT),
            ),
        ),
        Section(
            heading="At the line",
            items=(
                fields.litres("samples_litres", "Samples drawn", decimals=2, usual=("0.05", "20"), required=False),
                fields.percent("samples_percent", "Strength of samples", usual=PERCENT, required=False),
                fields.litres(
                    "returned_litres",
                    "Poured back",
                    required=False,
                    help="Poured back into the vat before it was gauged after: that gauge holds it already.",
                ),
                fields.percent("returned_percent", "Strength of it", usual=PERCENT, required=False),
            ),
        ),
        Section(
            heading="Checks",
            items=(
                fields.number("mean_fill_millilitres", "Mean fill at 20 °C", "mL", required=False),
                fields.percent("mean_strength_percent", "Mean strength", usual=PERCENT, required=False),
            ),
        ),
        Section(
            heading="Bottles and closures",
            items=(
                fields.name("bottle_lot", "Lot of bottles", lot=True, required=False),
                fields.count("bottles_used", "Bottles used, broken ones too", short="Bottles used", required=False),
                fields.name("closure_lot", "Lot of closures", lot=True, required=False),
                fields.count("closures_used", "Closures used", required=False),
            ),
        ),
    ),
    rows=CHECKS,
    cautions=(GLASS, VAPOUR),
    list_columns=("at", "vat", "product", "lot_code", "bottle_centilitres", "label_percent", "bottles"),
    after="regauge",
    fills_bottles=True,
    checked_strength="mean_strength_percent",
    materials=(
        Material(field="bottle_lot", counted="bottles_used", kind=MaterialKind.BOTTLE),
        Material(field="closure_lot", counted="closures_used", kind=MaterialKind.CLOSURE),
    ),
    check=written_whole,
    printed_title="Bottling record",
    note=held,
    asks=too_weak_for_its_name,
    results=(comes_to(line_facts), packers_rules, label_and_size, age, age_on_the_label, name_needs),
    pictures=checks_against_time,
)
