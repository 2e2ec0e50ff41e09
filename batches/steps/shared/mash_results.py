"""What a mash comes to: strike water, extract and its efficiency, weak worts, water and draff, how long it took.

Sums are those of `distillery.process.mashing`, thresholds the site's own of the day. What a reading is missing for is
left out, and nothing of it is posted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime

from batches.sheets.materials.drawn import Issued, by_mass, issued_to
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import hours, told_number
from batches.steps.shared.last_records import usual_length
from batches.steps.shared.malt import MOISTURE, extract_as_is
from batches.steps.shared.site_figures import set_figure
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.wort import degrees_of_gravity, extract_percent_of_litre_degrees
from distillery.clock.reading import site_day
from distillery.pages import LOOK, OUT, Fact
from distillery.process import mashing
from distillery.process.mashing import Reached, Running
from distillery.rules.in_force import NoRuleInForce

TO_THE_WASHBACK = ("water1_litres", "water2_litres")
# What comes off as weak worts, by and large; of which nothing is known where those are not written.
FOR_THE_NEXT = ("water3_litres", "water4_litres")
SAID = {
    Reached.USUAL: "",
    Reached.LOW: "low: look at the grist, the temperatures and the draff",
    Reached.VERY_LOW: "very low: look at the grist, the temperatures and the draff",
    Reached.TOO_MUCH: "more than the malt holds: a volume, a gravity or a weight is wrong",
}


def results(written: Completed, now: datetime) -> list[Fact]:
    """What can be worked out of a mash so far."""
    found: list[Fact] = []
    for sum_of in (_strike, _mixed, _time, _extract, _water):
        try:
            found += sum_of(written, now)
        except AlcoholometryError as refused:
            found.append(Fact(NAMES[sum_of], "not worked out", note=str(refused), state=LOOK))
        except NoRuleInForce as missing:
            found.append(Fact(NAMES[sum_of], "not worked out", note=str(missing)))
    return found


def _strike(written: Completed, now: datetime) -> Iterator[Fact]:
    """The first water for the temperature that is wanted, at the ratio run on or, before that, the site's usual one."""
    if not (written.has("strike_wanted_celsius") and written.has("grist_celsius")):
        return
    day, ratio = _day(written), _ratio(written)
    at = ratio if ratio is not None else set_figure("first water a kg of grist", day)
    wanted, offset = written.real("strike_wanted_celsius"), set_figure("strike offset of the site", day)
    water = mashing.strike_water_celsius(
        mash_celsius=wanted,
        grist_celsius=written.real("grist_celsius"),
        litres_per_kg=at,
        heat_of_grist=set_figure("heat of the grist", day),
        site_offset_celsius=offset,
    )
    said = f"for {figures.celsius(wanted)} °C with {figures.number(at, 2)} L/kg{'' if ratio else ', the usual'}"
    said += f", offset of the site {figures.celsius(offset, style=figures.SIGNED)} °C" if offset else ""
    yield Fact("First water wanted at", figures.celsius(water), "°C", note=said)


def _mixed(written: Completed, now: datetime) -> Iterator[Fact]:
    """The mixed temperature beside the one wanted, and beside what water and grist should have come to."""
    if not written.has("mixed_celsius"):
        return
    mixed, ratio = written.real("mixed_celsius"), _ratio(written)
    if written.has("strike_wanted_celsius"):
        off = mixed - written.real("strike_wanted_celsius")
        yield Fact("Mixed beside wanted", figures.celsius(off, style=figures.SIGNED), "°C")
    if ratio is not None and written.has("water1_celsius") and written.has("grist_celsius"):
        reckoned = mashing.mixed_celsius(
            water_celsius=written.real("water1_celsius") - set_figure("strike offset of the site", _day(written)),
            grist_celsius=written.real("grist_celsius"),
            litres_per_kg=ratio,
            heat_of_grist=set_figure("heat of the grist", _day(written)),
        )
        yield Fact(
            "Mixed as worked out",
            figures.celsius(reckoned),
            "°C",
            note=f"measured {figures.celsius(mixed)} °C; a lasting difference is the offset of the site",
        )


def _time(written: Completed, now: datetime) -> Iterator[Fact]:
    """How long it took, or takes, beside the last twenty."""
    begun = written.moment("started_at")
    took = hours(begun, written.moment("ended_at") if written.has("ended_at") else now)
    usual = usual_length("mash", begun, but=written.number)
    if usual is None:
        yield Fact("On for" if not written.has("ended_at") else "Took", figures.number(took, 1), "h")
        return
    median = usual.total_seconds() / 3600.0
    times = set_figure("time of a mash beside the last", _day(written))
    said = f"median of the last twenty {figures.number(median, 1)} h"
    is_long = took > times * median
    yield Fact(
        "On for" if not written.has("ended_at") else "Took",
        figures.number(took, 1),
        "h",
        note=f"{said}; over {figures.number(times, 1)} times that, the mash may have set" if is_long else said,
        state=LOOK if is_long else None,
    )


def _extract(written: Completed, now: datetime) -> Iterator[Fact]:
    """Extract collected with the weak worts that were carried, and its efficiency against the laboratory."""
    if not (written.has("wort_litres") and written.has("wort_gravity")):
        return
    worts, out, taken = _worts(written)
    plant = mashing.extract_litre_degrees_per_kg(
        worts=worts, grist_kg=written.real("grist_kg"), carried_out=out, carried_in=taken
    )
    carried = [f"{label} {_carried(one)}" for label, one in (("left", out), ("taken in", taken)) if one]
    note = ", ".join([f"{figures.percent(extract_percent_of_litre_degrees(plant))} % of the grist", *carried])
    yield Fact("Extract", figures.number(plant, 1), "L°/kg", note=note)
    laboratory = _laboratory_extract(written)
    if laboratory is None:
        return
    day = _day(written)
    efficiency = mashing.extract_efficiency_percent(litre_degrees_per_kg=plant, laboratory_extract_percent=laboratory)
    reached = mashing.efficiency_reached(
        efficiency,
        low_percent=set_figure("extract efficiency, low", day),
        very_low_percent=set_figure("extract efficiency, very low", day),
        too_much_percent=set_figure("extract efficiency, too much", day),
    )
    state = {Reached.USUAL: None, Reached.LOW: LOOK}.get(reached, OUT)
    yield Fact("Extract efficiency", figures.percent(efficiency), "%", note=SAID[reached], state=state)


def _water(written: Completed, now: datetime) -> Iterator[Fact]:
    """Draff by its sum beside its weight, and the water that is found again in worts and draff."""
    moisture = _moisture(written)
    if moisture is None or not (written.has("wort_litres") and written.has("wort_gravity")):
        return
    worts, out, taken = _worts(written)
    grist, day = written.real("grist_kg"), _day(written)
    extract = extract_percent_of_litre_degrees(
        mashing.extract_litre_degrees_per_kg(worts=worts, grist_kg=grist, carried_out=out, carried_in=taken)
    )
    of_draff = (
        written.real("draff_moisture_percent")
        if written.has("draff_moisture_percent")
        else set_figure("moisture of the draff", day)
    )
    mash = {
        "grist_kg": grist,
        "moisture_percent": moisture,
        "extract_percent": extract,
        "draff_moisture_percent": of_draff,
    }
    draff = mashing.draff_kg(**mash)
    weighed = f"weighed {figures.number(written.real('draff_kg'))} kg" if written.has("draff_kg") else "not weighed"
    yield Fact("Draff, worked out", figures.number(draff), "kg", note=f"at {of_draff:g} % moisture; {weighed}")
    # Only once the waters that made these worts are all written.
    if not (written.has("water1_litres") and written.has("water2_litres")):
        return
    waters = (*TO_THE_WASHBACK, *FOR_THE_NEXT) if out else TO_THE_WASHBACK
    held = written.real("draff_kg") * of_draff / 100.0 if written.has("draff_kg") else mashing.water_held_litres(**mash)
    gap = mashing.water_gap_percent(
        water_litres=sum(written.real(name) for name in waters if written.has(name)),
        worts_litres=sum(one.litres for one in (*worts, *out)),
        held_litres=held,
        weak_in_litres=sum(one.litres for one in taken),
    )
    widest = set_figure("gap of the water balance", day)
    is_wide = abs(gap) > widest
    said = f"not found again of the water; over {widest:g} % a meter is wrong or there is a leak"
    yield Fact(
        "Water gap",
        figures.percent(gap, style=figures.SIGNED),
        "%",
        note=said if is_wide else "",
        state=LOOK if is_wide else None,
    )


NAMES: dict[Callable[[Completed, datetime], Iterator[Fact]], str] = {
    _strike: "First water wanted at",
    _mixed: "Mixed as worked out",
    _time: "Took",
    _extract: "Extract",
    _water: "Water and draff",
}


def _worts(written: Completed) -> tuple[list[Running], list[Running], list[Running]]:
    """Wort to the washback, weak worts left, weak worts taken in; those of which litres or gravity lack left out."""

    def running(litres: str, gravity: str) -> list[Running]:
        if not (written.has(litres) and written.has(gravity)):
            return []
        return [Running(written.real(litres), degrees_of_gravity(written.real(gravity)))]

    return (
        running("wort_litres", "wort_gravity"),
        running("weak_out_litres", "weak_out_gravity"),
        running("weak_in_litres", "weak_in_gravity"),
    )


def _carried(runnings: list[Running]) -> str:
    return ", ".join(f"{figures.litres(one.litres, 0)} L at {figures.number(one.degrees, 1)}°" for one in runnings)


def _ratio(written: Completed) -> float | None:
    if not (written.has("water1_litres") and written.has("grist_kg")):
        return None
    return written.real("water1_litres") / written.real("grist_kg")


def _moisture(written: Completed) -> float | None:
    """Moisture of the malt by its certificates, by mass, where every lot says it."""
    if written.has("malt_lot"):
        return told_number(written, written.record("malt_lot"), MOISTURE)
    return by_mass(_drawn(written), lambda lot: told_number(written, lot, MOISTURE))


def _drawn(written: Completed) -> list[Issued]:
    """The lots its silo gave, once it is saved; nothing before."""
    mash = written.site.record(written.sheet.kind, written.number) if written.number else None
    return issued_to(written.site, mash, "malt_lot") if mash is not None else []


def _laboratory_extract(written: Completed) -> float | None:
    """Extract by the laboratory, % as is: as it is written, else that of the lots its silo gave, by mass."""
    if written.has("laboratory_extract_percent"):
        return written.real("laboratory_extract_percent")
    return by_mass(_drawn(written), lambda lot: extract_as_is(written, lot))


def _day(written: Completed) -> date:
    return site_day(written.moment("started_at"))
