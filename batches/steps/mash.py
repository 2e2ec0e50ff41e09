"""Mash: grist from a malt lot, up to four waters, and the wort that went to a washback. No alcohol moves yet.

Usual figures: grist 20 / 70 / 10 husk, grits and flour, within 2, 3 and 2 points, together 100 within 0.5; above 13 %
of flour a mash may set, below 7 % it gives little extract (all common practice, no source); mixed 63 to 65.5 °C, above
which enzymes are lost, second water 65 to 80, third and fourth 80 to 95 °C; wort 1.055 to 1.068 at 16 to 22 °C. The
last water is too weak for the washback and begins the next mash: what is left and what is taken in have to agree.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, GRAIN_DUST, HOT_LIQUOR
from batches.sheets.materials.drawn import lot_or_silo
from batches.sheets.results import comes_to
from batches.sheets.sheet import (
    Chart,
    Event,
    Material,
    MaterialKind,
    Moment,
    Note,
    Phase,
    Problem,
    Running,
    Section,
    Sheet,
    Works,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.mash_results import results
from batches.steps.shared.washbacks import free_for_wort
from batches.steps.shared.weak_worts import disagreeing, itself
from distillery import figures
from distillery.clock.reading import site_day
from distillery.plant.models import Kind as VesselKind
from distillery.process import malt
from distillery.rules.in_force import usual_figure

SIEVE = ("husk_percent", "grits_percent", "flour_percent")
WHOLE, SIEVE_TOLERANCE = Decimal(malt.WHOLE_PERCENT), Decimal(malt.SIEVE_SUM_TOLERANCE)
# The site's figures: how far a grist may lie from its target, %, and the target where a mash says none, kg.
OFF_TARGET, TARGET = "grist off its target", "grist of a mash"
LEAST_FLOUR, MOST_FLOUR = Decimal(malt.LEAST_FLOUR_PERCENT), Decimal(malt.MOST_FLOUR_PERCENT)


def _usual(part: str) -> tuple[str, str]:
    """The usual range of a part of the sieve test, % by mass."""
    usual, within = malt.USUAL_SIEVE[part]
    return f"{usual - within:g}", f"{usual + within:g}"


def sieved(written: Completed) -> list[Note]:
    """The parts of a sieve test make up the whole, and flour has an edge on either side."""
    parts = [(name, written.decimal(name)) for name in SIEVE if written.has(name)]
    total = sum(part for _, part in parts)
    notes = []
    if len(parts) == len(SIEVE) and abs(total - WHOLE) > SIEVE_TOLERANCE:
        said = f"Husk, grits and flour come to {total:f} %, not to 100 within {SIEVE_TOLERANCE:f}: weigh again."
        notes.append(Note("flour_percent", None, said))
    elif total > WHOLE + SIEVE_TOLERANCE:
        said = f"What is written of the sieve test comes to {total:f} %, more than the whole: weigh again."
        notes.append(Note(parts[-1][0], None, said))
    flour = dict(parts).get("flour_percent")
    if flour is not None and flour > MOST_FLOUR:
        notes.append(Note("flour_percent", None, f"Flour is {flour:f} %; above {MOST_FLOUR} % the mash may set."))
    if flour is not None and flour < LEAST_FLOUR:
        notes.append(Note("flour_percent", None, f"Flour is {flour:f} %; below {LEAST_FLOUR} % the extract is low."))
    return notes


def to_be_right(written: Completed) -> list[Problem]:
    """A lot or a silo, and weak worts of another mash."""
    return [*lot_or_silo(written), *itself(written)]


def to_look_at(written: Completed) -> list[Note]:
    """What is unlikely on the sheet as a whole."""
    return [*sieved(written), *off_target(written), *disagreeing(written)]


def off_target(written: Completed) -> list[Note]:
    """A grist that lies further from its target than the site's figure."""
    at = written.moment("started_at")
    within, target = usual_figure(OFF_TARGET, site_day(at)), usual_figure(TARGET, site_day(at))
    wanted = written.real("grist_wanted_kg") if written.has("grist_wanted_kg") else target and target.expected
    if not wanted or within is None or within.expected is None:
        return []
    grist = written.real("grist_kg")
    off = 100.0 * (grist - wanted) / wanted
    if abs(off) <= within.expected:
        return []
    said = f"Grist is {grist:g} kg, {figures.number(off, 1, figures.SIGNED)} % of the {wanted:g} kg wanted."
    return [Note("grist_kg", None, said)]


def _water(place: int, order: str) -> Event:
    """A water that is run on, with its litres and temperature."""
    return Event(
        name=f"water{place}",
        label=f"{order} water",
        said="Water run on",
        when=f"water{place}_at",
        figures=(f"water{place}_litres", f"water{place}_celsius"),
        state=f"{order} water",
        after=f"water{place - 1}" if place > 1 else "",
    )


SHEET = Sheet(
    kind="mash",
    title="Mash",
    plural="Mashes",
    operation="mash",
    table="mashes",
    prefix="MA",
    number_column="mash",
    moments=(
        Moment(name="start", label="Start", when="started_at", phase=Phase.BEGINNING),
        Moment(name="end", label="End", when="ended_at", phase=Phase.BEGINNING),
    ),
    sections=(
        Section(
            heading="Grist",
            items=(
                fields.when("started_at", "Started at"),
                fields.record("malt_lot", "Malt lot", "intake", required=False),
                fields.name(
                    "silo",
                    "Silo",
                    required=False,
                    help="In place of a lot: its lots are drawn on, first in first out.",
                ),
                fields.kilograms("grist_kg", "Grist", low="1", usual=("500", "12000")),
                fields.kilograms(
                    "grist_wanted_kg",
                    "Grist wanted",
                    low="1",
                    usual=("500", "12000"),
                    required=False,
                    help="Left blank, the site's own figure where it has set one.",
                ),
                fields.percent("husk_percent", "Husk", unit="%", usual=_usual("husk"), required=False),
                fields.percent("grits_percent", "Grits", unit="%", usual=_usual("grits"), required=False),
                fields.percent("flour_percent", "Flour", unit="%", usual=_usual("flour"), required=False),
            ),
        ),
        Section(
            heading="Strike and weak worts",
            items=(
                fields.celsius(
                    "grist_celsius", "Temperature of the grist", usual=("5", "25"), high="60", required=False
                ),
                fields.celsius(
                    "strike_wanted_celsius",
                    "Mixed temperature wanted",
                    high="100",
                    usual=("63", "65.5"),
                    required=False,
                    help="With the temperature of the grist it says how hot the first water has to be.",
                ),
                fields.record(
                    "weak_from",
                    "Weak worts from",
                    "mash",
                    required=False,
                    help="The mash whose last water is the first of this one.",
                ),
                fields.litres("weak_in_litres", "Weak worts in", decimals=0, required=False),
                fields.gravity(
                    "weak_in_gravity", "Gravity of the weak worts in", usual=("1.000", "1.020"), required=False
                ),
            ),
        ),
        Section(
            heading="Waters",
            moment="end",
            items=(
                fields.when("water1_at", "First water at", not_before="started_at", required=False),
                fields.litres("water1_litres", "First water", short="Water", decimals=0, required=False),
                fields.celsius(
                    "water1_celsius",
                    "First water, temperature",
                    short="Temperature",
                    high="100",
                    usual=("60", "72"),
                    required=False,
                ),
                fields.when("mixed_at", "Mixed temperature read at", not_before="started_at", required=False),
                fields.celsius(
                    "mixed_celsius",
                    "Mixed temperature",
                    short="Mixed",
                    high="100",
                    usual=("63", "65.5"),
                    required=False,
                    help="At the mixer, five minutes after the first water.",
                ),
                fields.when("water2_at", "Second water at", not_before="water1_at", required=False),
                fields.litres("water2_litres", "Second water", short="Water", decimals=0, required=False),
                fields.celsius(
                    "water2_celsius",
                    "Second water, temperature",
                    short="Temperature",
                    high="100",
                    usual=("65", "80"),
                    required=False,
                ),
                fields.when("water3_at", "Third water at", not_before="water2_at", required=False),
                fields.litres("water3_litres", "Third water", short="Water", decimals=0, required=False),
                fields.celsius(
                    "water3_celsius",
                    "Third water, temperature",
                    short="Temperature",
                    high="100",
                    usual=("75", "96"),
                    required=False,
                ),
                fields.when("water4_at", "Fourth water at", not_before="water3_at", required=False),
                fields.litres("water4_litres", "Fourth water", short="Water", decimals=0, required=False),
                fields.celsius(
                    "water4_celsius",
                    "Fourth water, temperature",
                    short="Temperature",
                    high="100",
                    usual=("75", "96"),
                    required=False,
                ),
            ),
        ),
        Section(
            heading="Wort",
            moment="end",
            items=(
                fields.when("ended_at", "Ended at", not_before="started_at"),
                fields.litres("wort_litres", "Wort", decimals=0),
                fields.gravity("wort_gravity", "Gravity of the wort", usual=("1.050", "1.075")),
                fields.celsius("wort_celsius", "Temperature of the wort", high="100", usual=("14", "25")),
                fields.vessel("washback", "Washback", VesselKind.WASHBACK),
                fields.percent(
                    "laboratory_extract_percent",
                    "Extract by the laboratory, as is",
                    unit="%",
                    usual=("74", "82"),
                    required=False,
                    help="Soluble extract of the malt as it is, not dry; left blank, that of its lot's certificate.",
                ),
            ),
        ),
        Section(
            heading="Weak worts and draff",
            moment="end",
            items=(
                fields.litres("weak_out_litres", "Weak worts left for the next mash", decimals=0, required=False),
                fields.gravity(
                    "weak_out_gravity", "Gravity of the weak worts left", usual=("1.000", "1.020"), required=False
                ),
                fields.kilograms("draff_kg", "Draff", decimals=0, required=False),
                fields.percent(
                    "draff_moisture_percent", "Moisture of the draff", unit="%", usual=("74", "82"), required=False
                ),
                fields.name("draff_to", "Draff to", required=False, help="Who took it, or where it went."),
            ),
        ),
    ),
    readings=(
        fields.celsius("celsius", "Temperature", low="0", high="100", usual=("60", "96")),
        fields.gravity("gravity", "Gravity", usual=("1.000", "1.090"), read_at="sample_celsius"),
        fields.celsius(
            "sample_celsius", "Temperature of the gravity's sample", short="Sample", low="0", usual=("10", "30")
        ),
    ),
    running=Running(
        state="Mashing",
        every=timedelta(minutes=30),
        events=(
            _water(1, "First"),
            Event(
                name="mixed",
                label="Mixed temperature",
                said="Mixed temperature read",
                when="mixed_at",
                figures=("mixed_celsius",),
                state="First water",
                after="water1",
            ),
            *(_water(place, order) for place, order in ((2, "Second"), (3, "Third"), (4, "Fourth"))),
        ),
    ),
    cautions=(HOT_LIQUOR, GRAIN_DUST, CONFINED_SPACE),
    list_columns=("started_at", "malt_lot", "grist_kg", "wort_litres", "wort_gravity", "washback"),
    after="intake",
    works_in=Works(vessel="washback", said="is not pitched yet", litres=("wort_litres",)),
    materials=(
        Material(field="malt_lot", weighed="grist_kg", kind=MaterialKind.MALT, drawn_from="silo"),
        Material(field="weak_from", said="weak worts"),
    ),
    tells=(
        "malt_lot",
        "grist_kg",
        "wort_litres",
        "wort_gravity",
        "washback",
        "weak_in_litres",
        "weak_out_litres",
        "weak_out_gravity",
    ),
    chart=Chart(quantity="gravity", beside="celsius", degrees=True),
    longest=timedelta(days=2),
    needed_in_log=True,
    printed_title="Mash record",
    check=to_be_right,
    check_on_page=free_for_wort,
    note=to_look_at,
    results=(comes_to(results),),
)
