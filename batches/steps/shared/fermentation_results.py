"""What a fermentation comes to so far: gravities and yeast, whether it is steady, what is to be looked into, and the
carbon dioxide it has made.

Sums are those of `distillery.process.fermenting`, thresholds and exposure limits the site's dated figures. Nothing of
it is posted, and nothing of it says that the air is safe.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

from batches.running.like_batches import like_batches
from batches.sheets.materials.drawn import by_mass, issued_to
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.fermentation_course import FOAMED_OVER, Course, first_charge
from batches.steps.shared.figures import hours, told_number
from batches.steps.shared.site_figures import row_of, set_figure
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.gravity import wash_percent
from distillery.alcoholometry.wort import apparent_attenuation_percent
from distillery.pages import ESTIMATE, LOOK, OUT, Fact
from distillery.process import fermenting
from distillery.process.fermenting import YeastForm
from distillery.rules.in_force import NoRuleInForce

# How far a gravity may lie from the last batches of the same age, in their standard deviations.
DEVIATIONS = 2.0
LONG, SHORT = "8 hours", "15 minutes"
MILLION = 1_000_000.0


def results(written: Completed, now: datetime) -> list[Fact]:
    """What can be worked out of a fermentation by a moment."""
    course = Course(written, now)
    found: list[Fact] = []
    for name, sum_of in SUMS.items():
        try:
            found += sum_of(course)
        except (AlcoholometryError, Ungaugeable, ValueError) as refused:
            found.append(Fact(name, "not worked out", note=str(refused), state=LOOK))
        except NoRuleInForce as missing:
            found.append(Fact(name, "not worked out", note=str(missing)))
    return found


def _gravities(course: Course) -> Iterator[Fact]:
    """Original gravity with its addition, and how far it has gone."""
    written, original = course.written, course.original
    if written.has("measured_gravity") and original is not None:
        added = written.real("addition_for_work_degrees") if written.has("addition_for_work_degrees") else 0.0
        why = f": {written.text('addition_reason')}" if written.has("addition_reason") else ""
        measured = f"measured {written.real('measured_gravity'):.4f}"
        said = f"{measured}, {figures.number(added, 1)}° added for work{why}" if added else measured
        yield Fact("Original gravity, corrected", f"{original:.4f}", note=said)
    if original is None or not course.gravities:
        return
    last = course.gravities[-1][1]
    if last <= original:
        gone = apparent_attenuation_percent(original_gravity=original, present_gravity=last)
        table = written.site.gravities(course.day)
        strength = wash_percent(original_gravity=original, present_gravity=last, table=table)
        yield Fact("Apparent attenuation", figures.percent(gone), "%")
        yield Fact(
            "Strength of the wash",
            figures.percent(strength, 2),
            "% vol",
            note="by the table of factors",
            state=None if course.ended else ESTIMATE,
        )


def _yeast(course: Course) -> Iterator[Fact]:
    """How much yeast that is, by the form it was weighed in."""
    written = course.written
    if not written.has("yeast_kg") or not course.litres:
        return
    malt = told_number(written, written.record("mash"), "grist_kg") if written.has("mash") else None
    form = YeastForm(written.text("yeast_form")) if written.has("yeast_form") else None
    rate = fermenting.pitched(
        yeast_kg=written.real("yeast_kg"), form=form or YeastForm.PRESSED, wash_litres=course.litres, malt_kg=malt
    )
    said = [f"{figures.number(rate.grams_per_litre, 2)} g/L"]
    if rate.percent_of_malt is not None:
        said.append(f"{figures.number(rate.percent_of_malt, 2)} % of the malt")
    if form is None:
        said.append("without its form a weight of yeast cannot be checked")
    else:
        if rate.dry_percent_of_malt is not None:
            said.append(f"{figures.number(rate.dry_percent_of_malt, 3)} % of it dry, {form}")
        if rate.cells_per_ml:
            said.append(f"about {figures.number(rate.cells_per_ml / MILLION)} million cells a mL")
    yield Fact("Yeast", figures.number(rate.kg_per_hectolitre, 3), "kg/hL", note=", ".join(said))


def _beside_the_last(course: Course) -> Iterator[Fact]:
    """The last gravity beside the last batches of the same age."""
    read = course.read("gravity")
    if not read:
        return
    hour, gravity = read[-1]
    like = like_batches("fermentation", course.begun, but=course.written.number).at("gravity", hour)
    if like is None:
        return
    apart = 1000.0 * (gravity - like.mean)
    is_far = abs(gravity - like.mean) > DEVIATIONS * like.deviation
    said = (
        f"from the mean of {like.number} like batches at {figures.number(hour)} h; "
        f"two deviations are {figures.number(2000.0 * like.deviation, 1)}°"
    )
    yield Fact(
        "Gravity beside the last batches",
        figures.number(apart, 1, figures.SIGNED),
        "°",
        note=said,
        state=LOOK if is_far else None,
    )


def _first_fall(course: Course) -> Iterator[Fact]:
    """No fall by the hour at which one must have begun."""
    until, least = (set_figure(name, course.day) for name in ("hours to the first fall", "first fall of the gravity"))
    after = next(((hour, gravity) for hour, gravity in course.gravities if hour >= until), None)
    if course.original is None or after is None:
        return
    fallen = course.original - after[1]
    if fallen < least - 1e-9:
        said = f"by {figures.number(after[0])} h; at least {1000 * least:g}° by {until:g} h is looked for"
        yield Fact("Fallen", figures.number(1000 * fallen, 1), "°", note=said, state=LOOK)


def _warmth_and_ph(course: Course) -> Iterator[Fact]:
    """The highest temperature and the lowest pH that were read."""
    warm = [value for _, value in course.read("celsius")]
    if warm:
        highest = set_figure("highest temperature of a fermentation", course.day)
        hot = max(warm) > highest
        said = f"over {highest:g} °C yeast suffers" if hot else ""
        yield Fact("Peak temperature", figures.celsius(max(warm)), "°C", note=said, state=LOOK if hot else None)
    sour = [value for _, value in course.read("ph")]
    if sour:
        lowest = set_figure("lowest pH of a fermentation", course.day)
        low = min(sour) < lowest
        said = f"below {lowest:g} the wash may be infected" if low else ""
        yield Fact("Lowest pH", figures.number(min(sour), 1), note=said, state=LOOK if low else None)


def _foam(course: Course) -> Iterator[Fact]:
    """When it foamed last, and whether it foamed over."""
    noted = course.noted("foam")
    if noted:
        over = [at for at, said in noted if said == FOAMED_OVER]
        at = (over or [when for when, _ in noted])[-1]
        said = "over the rim: wash was lost, and the floor is slippery" if over else ""
        yield Fact("Foamed", figures.moment(at), note=said, state=LOOK if over else None)


def _end(course: Course) -> Iterator[Fact]:
    """Whether the gravity is steady, whether it stands where one ends, and how long the wash has waited."""
    if not course.gravities:
        if course.ended is not None:
            yield Fact("Steady", "not read", note="no gravity was read along the way")
        return
    apart = set_figure("time between steady gravities", course.day)
    within = 1000.0 * set_figure("steady gravity", course.day)
    rule = f"two gravities {apart:g} h apart within {within:g}°"
    if course.steady is not None:
        at = course.begun + timedelta(hours=course.steady)
        yield Fact("Steady", f"since {figures.moment(at)}", note=rule)
    elif course.ended is not None:
        yield Fact("Steady", "not shown", note=f"declared without {rule}", state=LOOK)
    else:
        yield Fact("Steady", "not yet", note=rule)
    last = course.gravities[-1][1]
    if course.ended is not None or course.steady is not None:
        high, low = (set_figure(f"{end} final gravity", course.day) for end in ("highest", "lowest"))
        if last > high:
            yield Fact("Final gravity", f"{last:.4f}", note=f"over {high:.3f}: it is stuck", state=LOOK)
        elif last < low:
            said = f"below {low:.3f}: the original gravity or this reading is wrong"
            yield Fact("Final gravity", f"{last:.4f}", note=said, state=OUT)


def _waiting(course: Course) -> Iterator[Fact]:
    """How long the wash waited for its still once it was steady, and whether it was charged before it was."""
    charged = first_charge(course.written.number)
    if charged is not None and (course.steady is None or charged < course.begun + timedelta(hours=course.steady)):
        if course.gravities and course.steady is not None:
            yield Fact("Charged", figures.moment(charged), note="before its gravity was steady", state=LOOK)
        return
    if course.steady is None:
        return
    since = course.begun + timedelta(hours=course.steady)
    waited, longest = hours(since, charged or course.asked), set_figure("longest wait of wash", course.day)
    too_long = waited > longest
    yield Fact(
        "Waited" if charged else "Waiting",
        figures.number(waited, 1),
        "h",
        note=f"over {longest:g} h since it is steady" if too_long else "since it is steady",
        state=LOOK if too_long else None,
    )


def _beside_the_malt(course: Course) -> Iterator[Fact]:
    """The wash beside what the malt promised."""
    written = course.written
    if course.ended is None or not written.has("final_dip_mm") or not written.has("mash"):
        return
    mash = written.record("mash")
    lots = issued_to(written.site, mash, "malt_lot")
    grist = told_number(written, mash, "grist_kg")
    promised = by_mass(lots, lambda lot: told_number(written, lot, "predicted_spirit_yield_lpa_per_tonne"))
    if not grist or not promised:
        return
    made, expected = written.quantity("final", at=course.ended).lpa, grist / 1000.0 * promised
    apart, widest = 100.0 * (made / expected - 1.0), set_figure("wash beside the malt", course.day)
    is_far = abs(apart) > widest
    said = f"{figures.number(made)} LPA beside {figures.number(expected)} promised"
    yield Fact(
        "Wash beside the malt",
        figures.percent(apart, style=figures.SIGNED),
        "%",
        note=f"{said}; over {widest:g} % is looked into" if is_far else said,
        state=LOOK if is_far else None,
    )


def _carbon_dioxide(course: Course) -> Iterator[Fact]:
    """Carbon dioxide made so far, and the fresh air that its last flow would take for either limit."""
    if not course.gravities:
        return
    made = course.lpa_at(course.gravities[-1][1])
    if made is None:
        return
    yield Fact(
        "Carbon dioxide made",
        figures.number(fermenting.carbon_dioxide_kg(made)),
        "kg",
        note=f"{figures.number(fermenting.carbon_dioxide_cubic_metres(made))} m³ of gas at 20 °C, by stoichiometry",
        state=ESTIMATE,
    )
    if course.ended is not None or len(course.gravities) < 2:
        return
    (before, higher), (hour, _) = course.gravities[-2:]
    earlier = course.lpa_at(higher)
    if earlier is None or hour <= before or made <= earlier:
        return
    flow = fermenting.carbon_dioxide_cubic_metres(made - earlier) / (hour - before)
    yield Fact(
        "Carbon dioxide now", figures.number(flow, 1), "m³/h", note="between the last two gravities", state=ESTIMATE
    )
    outside = set_figure("carbon dioxide in outside air", course.day)
    for over in (LONG, SHORT):
        row, ppm = row_of(f"carbon dioxide limit, {over}", course.day)
        air = fermenting.fresh_air_cubic_metres_per_hour(
            carbon_dioxide_m3_per_hour=flow, limit_share=ppm / MILLION, outside_share=outside / MILLION
        )
        advice = ": so much air that the gas is taken away where it comes off" if over == LONG else ""
        yield Fact(
            f"Fresh air for {figures.number(ppm)} ppm",
            figures.number(air),
            "m³/h",
            note=f"limit over {over}, {row.source.partition(': ')[2].partition(',')[0]}{advice}",
            state=ESTIMATE,
        )


SUMS: dict[str, Callable[[Course], Iterator[Fact]]] = {
    "Original gravity": _gravities,
    "Yeast": _yeast,
    "Gravity beside the last batches": _beside_the_last,
    "Fallen": _first_fall,
    "Temperature and pH": _warmth_and_ph,
    "Foamed": _foam,
    "Steady": _end,
    "Waiting": _waiting,
    "Wash beside the malt": _beside_the_malt,
    "Carbon dioxide": _carbon_dioxide,
}
