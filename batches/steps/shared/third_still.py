"""What a charge of the third still is and asks for: its strength in the still, botanicals by basket, uses of charcoal.

Litres and strengths at 20 °C, kilograms, litres of pure alcohol (LPA). Formulas: `distillery.process.compounding`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from batches.models import Mention, Record, State
from batches.sheets.register import all_sheets
from batches.sheets.results import Head, Line, Result
from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed, Written
from batches.steps.shared.recipes import asked_for, known_recipe
from batches.steps.shared.steeped import kilograms_steeped
from distillery import figures
from distillery.alcoholometry.mixing import Part, reduce_with_water
from distillery.plant.models import MICRO
from distillery.plant.recipes import RecipeAsOf, recipe_at
from distillery.process import compounding
from ledger.models import Movement

# Published loads at still strength, grams a litre: theginisin.com.
LOAD = (20.0, 35.0)
# How far the weight of a botanical may lie from its recipe: common practice, no source.
OF_RECIPE: Final = 0.02
NEAR_20: Final = 0.99821  # kg in a litre of water at 20 °C, weighed in vacuum (OIML R 22)


@dataclass(frozen=True, slots=True)
class Charge:
    """What is in the still: litres, % vol, LPA."""

    litres: float
    percent: float
    lpa: float


def charge_of(written: Completed) -> Charge:
    """What left the source, and the water that went into the still with it. Raises Ungaugeable."""
    before, after = written.quantity("source_before"), written.quantity("source_after")
    lpa = (before.pure_ul - after.pure_ul) / MICRO
    litres = before.litres20 - after.litres20
    if lpa <= 0 or litres <= 0:
        return Charge(0.0, 0.0, 0.0)
    percent = min(100.0 * lpa / litres, 100.0)
    if written.has("charge_water_litres") and written.real("charge_water_litres"):
        mixed = reduce_with_water(
            Part(litres20=litres, percent20=percent), water_kilograms=written.real("charge_water_litres") * NEAR_20
        )
        return Charge(mixed.litres20, mixed.percent20, lpa)
    return Charge(litres, percent, lpa)


def version_of(written: Completed) -> RecipeAsOf | None:
    """The version of the recipe that was in force when the still was charged."""
    return recipe_at(written.text("recipe"), written.moment("charged_at"))


# -- results


def the_charge(written: Completed, now: datetime) -> Result | None:
    """What stands in the still, with what its botanicals come to in a litre of it."""
    charge = charge_of(written)
    if not charge.litres:
        return None
    heads = (
        Head("Charge"),
        Head("Volume", "L at 20 °C", figure=True),
        Head("Strength", "% vol at 20 °C", figure=True),
        Head("Alcohol", "LPA", figure=True),
        Head("Botanicals", "g/L in the still", figure=True),
    )
    kilograms = sum(_weights(written.rows))
    load = figures.number(compounding.grams_a_litre(kilograms=kilograms, litres=charge.litres), 1) if kilograms else ""
    cells = ("In the still", figures.litres(charge.litres), figures.percent(charge.percent, 2))
    note = f"published loads are {LOAD[0]:.0f} to {LOAD[1]:.0f} g/L (theginisin.com)" if load else ""
    return Result("Charge", heads, (Line((*cells, figures.number(charge.lpa, 2), load)),), note)


def botanicals_wanted(written: Completed, now: datetime) -> Result | None:
    """The weights that the recipe wants for this charge, whole and by basket, beside what was weighed."""
    version = version_of(written)
    if version is None:
        return None
    charge = charge_of(written)
    baskets = written.whole("baskets") if written.has("baskets") else 1
    wanted = asked_for(version.version.recipe, lpa=charge.lpa, at=written.moment("charged_at"))
    weighed: dict[str, float] = {}
    for line in written.rows:
        name = line.text("botanical").casefold()
        weighed[name] = weighed.get(name, 0.0) + (line.real("botanical_kg") if line.has("botanical_kg") else 0.0)
    steeped = kilograms_steeped(written, lpa=charge.lpa)
    heads = (
        Head("Botanical"),
        Head("Wanted", "kg", figure=True),
        *((Head("Steeped", "kg", figure=True),) if steeped else ()),
        Head("In each basket", "kg", figure=True),
        Head("Weighed", "kg", figure=True),
        Head("Off the recipe", "%", figure=True),
    )
    lines = []
    for name, kilograms in [*wanted.items(), ("all", sum(wanted.values()))]:
        own, before = (sum(one.values()) if name == "all" else one.get(name, 0.0) for one in (weighed, steeped))
        off = figures.number(100.0 * (own + before - kilograms) / kilograms, 1) if own + before and kilograms else ""
        each = compounding.kilograms_per_basket(kilograms=max(0.0, kilograms - before), baskets=baskets)
        shown = [figures.number(one, 3) if one else "" for one in (before, own)]
        lines.append(
            Line(
                (
                    *(name, figures.number(kilograms, 3), *(shown[:1] if steeped else ())),
                    *(figures.number(each, 3), shown[1], off),
                )
            )
        )
    note = _which(version, baskets)
    if steeped:
        note += f"; steeped in {written.record('maceration').number}, the part of this charge"
    return Result("Botanicals by the recipe", heads, tuple(lines), note)


def baskets_weighed(written: Completed, now: datetime) -> Result | None:
    """Each basket beside the mean of all."""
    kilograms = _by_basket(written)
    if len(kilograms) < 2:
        return None
    heads = (Head("Basket"), Head("Weight", "kg", figure=True), Head("Beside the mean", "%", figure=True), Head(""))
    places = sorted(kilograms)
    found = compounding.baskets_beside_their_mean([kilograms[place] for place in places])
    lines = tuple(
        Line(
            (
                str(place),
                figures.number(one.kilograms, 3),
                figures.number(one.percent_of_mean, 2),
                "" if one.is_even else "uneven",
            )
        )
        for place, one in zip(places, found, strict=True)
    )
    most = f"{compounding.IMBALANCE_PERCENT:.0f} %"
    return Result("Baskets", heads, lines, f"more than {most} from the mean is uneven: common practice, no source")


def charcoal_used(written: Completed, now: datetime) -> Result | None:
    """How many charges, and how much alcohol, the lot of charcoal has treated, this one among them."""
    lot = written.text("charcoal_lot")
    if not lot:
        return None
    charge = charge_of(written)
    earlier = _charges_with(lot, written)
    treated = sum(pure_ul or 0 for _, pure_ul in earlier) / MICRO + charge.lpa
    heads = (Head("Lot"), Head("Charges treated", figure=True), Head("Alcohol treated", "LPA", figure=True))
    line = Line((lot, figures.count(len(earlier) + 1), figures.number(treated, 1)))
    return Result("Charcoal", heads, (line,), "this charge included")


# -- what is noted and asked


def off_the_recipe(written: Completed) -> list[Note]:
    """Weights that are not those of the recipe, botanicals that are in one of the two alone, baskets that differ."""
    notes = known_recipe(written)
    rows = written.rows
    if not rows and not written.has("maceration"):
        return notes
    charge = charge_of(written)
    wanted = asked_for(written.text("recipe"), lpa=charge.lpa, at=written.moment("charged_at"))
    before = kilograms_steeped(written, lpa=charge.lpa)
    sums = dict(before)
    last: dict[str, int] = {}
    for place, line in enumerate(rows):
        name = line.text("botanical").casefold()
        sums[name] = sums.get(name, 0.0) + line.real("botanical_kg")
        last[name] = place
        if wanted and name not in wanted:
            notes.append(
                Note("botanical", place, f"{line.text('botanical')} is not in recipe {written.text('recipe')}.")
            )
    for name, kilograms in wanted.items():
        own = sums.get(name, 0.0)
        if name not in sums:
            said = f"Recipe {written.text('recipe')} asks for {kilograms:.3f} kg of {name}; none is written."
            notes.append(Note("recipe", None, said))
        elif name in sums and kilograms and abs(own - kilograms) > OF_RECIPE * kilograms:
            steeped = f", {before[name]:.3f} kg of it steeped" if before.get(name) else ""
            said = (
                f"{own:.3f} kg of {name}{steeped}; recipe {written.text('recipe')} asks for {kilograms:.3f} kg with "
                "this charge."
            )
            notes.append(Note("botanical_kg" if name in last else "maceration", last.get(name), said))
    return notes + _uneven(written)


def another_product(written: Completed) -> list[Note]:
    """A still that was last charged for another product, and no changeover is written since."""
    still, at, kind = written.vessel("third_still"), written.moment("charged_at"), written.text("kind")
    last = (
        Record.objects.filter(
            kind=written.sheet.kind,
            happened_from__lt=at,
            mentions__field="third_still",
            mentions__what=Mention.What.VESSEL,
            mentions__code=still.code,
        )
        .exclude(state=State.VOID)
        .exclude(number=written.number)
        .order_by("happened_from", "pk")
        .last()
    )
    if last is None:
        return []
    before = written.site.typed_of(last).get("kind", "")
    if not before or before.casefold() == kind.casefold() or _changed_over(still.code, last, written):
        return []
    said = (
        f"still {still.code} was last charged for {before} ({last.number}) and no changeover is written since: its "
        f"heads, baskets and charcoal may carry over into {kind}."
    )
    return [Note("kind", None, said, before)]


def _changed_over(code: str, last: Record, written: Completed) -> bool:
    """Whether the product of a still was ended between its last charge and this one."""
    for sheet in all_sheets():
        if not sheet.ends_product:
            continue
        between = Record.objects.filter(
            kind=sheet.kind,
            happened_from__gte=last.happened_from,
            happened_from__lte=written.moment("charged_at"),
            mentions__field=sheet.ends_product,
            mentions__what=Mention.What.VESSEL,
            mentions__code=code,
        )
        if between.exclude(state=State.VOID).exists():
            return True
    return False


def _uneven(written: Completed) -> list[Note]:
    kilograms = _by_basket(written)
    if len(kilograms) < 2 or not any(kilograms.values()):
        return []
    places = sorted(kilograms)
    last = {line.whole("basket"): place for place, line in enumerate(written.rows) if line.has("basket")}
    found = compounding.baskets_beside_their_mean([kilograms[place] for place in places])
    notes = [
        Note(
            "botanical_kg",
            last[place],
            f"Basket {place} holds {one.kilograms:.3f} kg, {figures.number(one.percent_of_mean, 2)} % of the mean.",
        )
        for place, one in zip(places, found, strict=True)
        if not one.is_even
    ]
    if written.has("baskets") and len(kilograms) != written.whole("baskets"):
        said = f"{written.whole('baskets')} baskets, but weights are written for {len(kilograms)}."
        notes.append(Note("baskets", None, said))
    return notes


def _by_basket(written: Completed) -> dict[int, float]:
    found: dict[int, float] = {}
    for line in written.rows:
        if line.has("basket") and line.has("botanical_kg"):
            place = line.whole("basket")
            found[place] = found.get(place, 0.0) + line.real("botanical_kg")
    return found


def _weights(rows: Sequence[Written]) -> list[float]:
    return [line.real("botanical_kg") for line in rows if line.has("botanical_kg")]


def _charges_with(lot: str, written: Completed) -> list[tuple[str, int | None]]:
    """The runs before this one that were treated with a lot of charcoal, each with its charge in microlitres."""
    numbers = (
        Record.objects.filter(
            kind=written.sheet.kind,
            happened_from__lt=written.moment("charged_at"),
            mentions__field="charcoal_lot",
            mentions__code__iexact=lot,
        )
        .exclude(state=State.VOID)
        .exclude(number=written.number)
        .values_list("number", flat=True)
    )
    judged = dict(
        Movement.objects.standing()
        .filter(record_kind=written.sheet.kind, record_number__in=list(numbers), judged_ul__isnull=False)
        .values_list("record_number", "judged_ul")
    )
    return [(number, judged.get(number)) for number in numbers]


def _which(version: RecipeAsOf, baskets: int) -> str:
    since = version.version.from_at
    dated = f" from {figures.moment(since, year=True)}" if since is not None else ""
    split = f", {baskets} baskets" if baskets > 1 else ""
    return (
        f"{version.version.recipe}, version {version.version.version}{dated} ({version.version.why}), "
        f"{figures.number(version.grams_per_lpa, 2)} g/LPA{split}; the version it began with"
    )
