"""Maceration: botanicals steeped in spirit before the third still, the vessel gauged before and after.

What is missing after it stays in the wet botanicals: they keep about their own dry weight of spirit. Botanicals for gin
are usually 15 to 40 grams for each litre of pure alcohol and steep 12 to 48 hours at 40 to 60 % vol; weights meet the
recipe within 2 %. All of it is common practice, no source.
"""

from __future__ import annotations

from datetime import timedelta

from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, STATIC, VAPOUR, Caution
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
    Rows,
    Running,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Figure, Held, against, from_gauges, hours
from batches.steps.shared.judged import contents
from batches.steps.shared.recipes import asked_for, known_recipe
from ledger.posting.accounts import difference, gauging
from ledger.posting.drafts import FigureTaken

PERCENT = ("35", "75")
# How far a weight may lie from its recipe before it is worth a second look.
OF_RECIPE = 0.02
GRAMS = 1000.0

LIFTING = Caution(
    "heavy sacks",
    "Sacks and wet bags of botanicals are heavy: part them into loads that one person can carry, use the hoist, and "
    "never lean over an open manway with a load.",
)


def begun(written: Completed) -> Posting:
    """The vessel before the botanicals go in."""
    return Posting((written.taken("before", gauging(written.vessel("vessel"))),))


def drained(written: Completed) -> Posting:
    """The vessel after they are out; what is missing stayed in them."""
    return Posting(
        (written.taken("after", difference("maceration")),),
        figures=compared(written),
        judged=contents(written, "contents before", "before"),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Weight, time and strength, beside macerations of the same recipe and the strength before."""
    begun_at, ended_at = written.moment("begun_at"), written.moment("ended_at")
    like = written.text("recipe", written.vessel("vessel").code).casefold()
    grams = GRAMS * sum(line.real("botanical_kg") for line in written.rows)

    def for_each_litre(before: Held) -> float:
        return grams / before.lpa

    def strength() -> tuple[Figure, float]:
        gauges = (written, "before"), (written, "after")
        return against(lambda before, after: after.percent, lambda before, after: before.percent, *gauges)

    found = Compared(ended_at)
    found.with_kind(
        "botanicals for each litre",
        lambda: from_gauges(for_each_litre, (written, "before")).loose,
        like=like,
        field="before_dip_mm",
        unit="g/LPA",
    )
    found.with_kind("time steeped", lambda: hours(begun_at, ended_at), like=like, field="ended_at", unit="h")
    found.with_reading("strength after steeping", strength, field="after_hydrometer_percent", unit="% vol")
    return found.figures


def some_time(written: Completed) -> list[Problem]:
    """Nothing steeps in no time."""
    if not written.has("ended_at") or written.moment("ended_at") > written.moment("begun_at"):
        return []
    return [Problem("ended_at", None, "Ended at is the minute it was begun; say when the botanicals came out.")]


def by_the_recipe(written: Completed) -> list[Note]:
    """Weights that are not those of the recipe, and botanicals that are in one of the two alone."""
    recipe = written.text("recipe")
    wanted = asked_for(recipe, lpa=written.quantity("before").lpa, at=written.moment("begun_at"))
    if not wanted:
        return known_recipe(written)
    notes, weighed = [], dict.fromkeys(wanted, 0.0)
    last = {line.text("botanical").casefold(): index for index, line in enumerate(written.rows)}
    for index, line in enumerate(written.rows):
        name = line.text("botanical")
        if name.casefold() not in wanted:
            notes.append(Note("botanical", index, f"{name} is not in recipe {recipe}."))
        else:
            weighed[name.casefold()] += line.real("botanical_kg")
    for name, kilograms in wanted.items():
        if name not in last:
            notes.append(
                Note("recipe", None, f"Recipe {recipe} asks for {kilograms:.2f} kg of {name}; none is written.")
            )
        elif abs(weighed[name] - kilograms) > OF_RECIPE * kilograms:
            said = f"{weighed[name]:.2f} kg of {name}; recipe {recipe} asks for {kilograms:.2f} kg with this spirit."
            notes.append(Note("botanical_kg", last[name], said))
    return notes


SHEET = Sheet(
    kind="maceration",
    title="Maceration",
    plural="Macerations",
    operation="maceration",
    table="macerations",
    prefix="MC",
    number_column="maceration",
    moments=(
        Moment(name="begun", label="Steeping", when="begun_at", phase=Phase.CHARGE, post=begun),
        Moment(name="drained", label="End of steeping", when="ended_at", phase=Phase.MOVE, post=drained),
    ),
    sections=(
        Section(
            heading="Before",
            items=(
                fields.vessel("vessel", "Vessel", *fields.DIPPED),
                fields.when("begun_at", "Begun at"),
                Gauge(prefix="before", label="Before", vessel="vessel", role=Role.BEFORE, usual_percent=PERCENT),
                fields.text("recipe", "Recipe", longest=40, required=False),
            ),
        ),
        Section(
            heading="After",
            moment="drained",
            items=(
                fields.when("ended_at", "Ended at", not_before="begun_at"),
                Gauge(prefix="after", label="After", vessel="vessel", role=Role.AFTER, usual_percent=PERCENT),
            ),
        ),
    ),
    rows=Rows(
        heading="Botanicals",
        one="botanical",
        each="botanical_lot",
        items=(
            fields.name("botanical_lot", "Lot", lot=True),
            fields.name("botanical", "Botanical"),
            fields.kilograms("botanical_kg", "Weight", decimals=2, usual=("0.01", "100")),
        ),
    ),
    readings=(
        fields.celsius("celsius", "Temperature", low="0", high="80", usual=("5", "60")),
        fields.percent("hydrometer_percent", "Hydrometer as it showed", short="Hydrometer", usual=PERCENT),
    ),
    running=Running(state="Steeping", every=timedelta(hours=12), by_hours=True),
    cautions=(VAPOUR, STATIC, LIFTING, CONFINED_SPACE),
    list_columns=("begun_at", "vessel", "recipe", "ended_at"),
    after="spirit_run",
    occupies="vessel",
    works_contents=True,
    materials=(
        Material(field="botanical_lot", weighed="botanical_kg", kind=MaterialKind.BOTANICAL, named="botanical"),
    ),
    longest=timedelta(days=7),
    printed_title="Maceration of botanicals",
    check=some_time,
    note=by_the_recipe,
)
