"""What is drawn of a vat: the parts that came together in it, its filtrations beside one another, its rest by its
gauges. Nothing of it is posted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from math import floor
from typing import Final

from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.last_records import last_before
from batches.steps.shared.still_charges import gauged
from batches.steps.shared.vats import gave, part
from batches.tracing.ages import youngest_in_vessels
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.mixing import Part
from distillery.charts.parts import Parts, Share
from distillery.charts.plots import Line, Plot
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO, Vessel
from distillery.process.ageing import Age, years_of_calendar
from distillery.rules.names import largest_that_counts
from ledger.models import Gauge

AN_HOUR: Final = timedelta(hours=1)
A_DAY: Final = timedelta(days=1)
# A rest shorter than this is drawn by its hours.
SHORT: Final = timedelta(days=3)
FILTRATION: Final = "filtration"
# This one and those before it.
FILTRATIONS: Final = 12
MADE: Final = "Gauged after it"


def parts_of_the_vat(written: Completed, givers: Iterable[str], vat: str) -> list[Parts]:
    """What stood in the vat and what each vessel gave, by litres and strength, with the age of the youngest in each.

    `givers` are names of fields before `_vessel`, `_before` and `_after`. Nothing where one of them cannot be read.
    """
    at = written.moment("at")
    try:
        there = part(gauged(written, f"{vat}_before"))
        sources = [(written.vessel(vat), there)] if there.litres20 > 0 else []
        sources += [(written.vessel(f"{one}_vessel"), _given(written, one)) for one in givers]
    except (AlcoholometryError, Ungaugeable):
        return []
    ages = _ages((one for one, _ in sources), at) if len(sources) > 1 else {}
    into = written.vessel(vat)
    shares = tuple(
        Share(
            f"there in {one.code}" if one == into else one.code, of.litres20, of.percent20, of.lpa, ages.get(one.pk, "")
        )
        for one, of in sources
    )
    return [
        Parts(
            "parts",
            "Parts of the vat",
            shares,
            MADE,
            _after(written, f"{vat}_after"),
            said="Age of the youngest" if ages else "",
        )
    ]


def _given(written: Completed, one: str) -> Part:
    return gave(written, f"{one}_before", f"{one}_after")


def _after(written: Completed, gauge: str) -> float | None:
    try:
        held = gauged(written, gauge)
    except (AlcoholometryError, Ungaugeable):
        return None
    return held.percent20 if held.pure_ul else None


def _ages(vessels: Iterable[Vessel], at: datetime) -> dict[int, str]:
    """The age of the youngest that each vessel held just before, by its key; those left out of which it is not known,
    or that never was in wood.
    """
    most = largest_that_counts(site_day(at))
    found = youngest_in_vessels(vessels, at, most_litres=most) if most is not None else {}
    return {key: _years(age, at) for key, age in found.items() if age.in_wood}


def _years(age: Age, at: datetime) -> str:
    # Cut down and never rounded up, as on the sheet.
    years = floor(100.0 * years_of_calendar(site_day(age.began(at)), site_day(at))) / 100.0
    return f"{figures.number(years, 2)} years{' or more' if age.or_more else ''}"


def over_filtrations(written: Completed, now: datetime) -> list[Plot]:
    """What was less after this filtration and the last ones of its way, and how the strength changed over each; a
    picture is left out where only one filtration has the figure.
    """
    if not written.number or not written.has("at"):
        return []
    before = last_before(FILTRATION, written.moment("at"), but=written.number)
    written.site.read_typed(before)
    way = written.text("way")
    alike = [one for one in before if written.site.typed_of(one).get("way", "").strip() == way][: FILTRATIONS - 1]
    numbers = [*(one.number for one in reversed(alike)), written.number]
    gauges = Gauge.objects.standing().filter(movement__record_kind=FILTRATION, movement__record_number__in=numbers)
    found: dict[str, dict[str, Gauge]] = {number: {} for number in numbers}
    for gauge in gauges.select_related("movement"):
        found[gauge.movement.record_number][gauge.name] = gauge
    return [
        *_by_filtration("lost", "Less after each filtration", "% of the LPA filtered", _less, 2, found),
        *_by_filtration("change", "Strength over each filtration", "After less before, % vol", _change, 2, found),
    ]


def _by_filtration(
    name: str,
    title: str,
    up: str,
    of: Callable[[Mapping[str, Gauge]], float | None],
    places: int,
    found: Mapping[str, Mapping[str, Gauge]],
) -> list[Plot]:
    known = [(number, value) for number, gauges in found.items() if (value := of(gauges)) is not None]
    if len(known) < 2:
        return []
    points = tuple((float(place), value) for place, (_, value) in enumerate(known, start=1))
    names = tuple(number for number, _ in known)
    return [Plot(name, title, "filtration", up, (Line("Gauged", points),), places, names=names)]


def _less(gauges: Mapping[str, Gauge]) -> float | None:
    """What did not come out of the filter, what it kept among it, %; None without the gauges it takes."""
    try:
        before, after = gauges["vat_before"].pure_ul, gauges["vat_after"].pure_ul
        if "into_after" in gauges:
            passed, came = before - after, gauges["into_after"].pure_ul - gauges["into_before"].pure_ul
        else:
            passed, came = before, after
    except KeyError:
        return None
    return 100.0 * (passed - came) / passed if passed > 0 else None


def _change(gauges: Mapping[str, Gauge]) -> float | None:
    """By how much the strength changed, % vol; None where it came to something else than what was filtered."""
    after = gauges.get("into_after", gauges.get("vat_after"))
    there = gauges.get("into_before")
    if "vat_before" not in gauges or after is None or not after.pure_ul or (there is not None and there.pure_ul):
        return None
    return (after.percent20_millionths - gauges["vat_before"].percent20_millionths) / MICRO


def over_standing(written: Completed, now: datetime) -> list[Plot]:
    """Strength and litres of the vat by every gauge from the beginning of its rest to its end, or until now."""
    if not written.has("begun_at"):
        return []
    begun = written.moment("begun_at")
    until = written.moment("ended_at") if written.has("ended_at") else now
    gauges = Gauge.objects.standing().filter(
        account__vessel=written.vessel("vessel"), happened_at__range=(begun, until)
    )
    held = [one for one in gauges.order_by("happened_at", "position") if one.pure_ul]
    if len({one.happened_at for one in held}) < 2:
        return []
    short = until - begun < SHORT
    along = [(one.happened_at - begun) / (AN_HOUR if short else A_DAY) for one in held]
    read = (
        ("strength", "Strength as it stood", "Strength, % vol", [one.percent20_millionths for one in held], 2),
        ("litres", "Litres as it stood", "Litres at 20 °C", [one.litres20_ul for one in held], 1),
    )
    return [
        Plot(
            name,
            title,
            f"{'hours' if short else 'days'} from its beginning",
            up,
            (Line("Gauged", tuple((at, value / MICRO) for at, value in zip(along, values, strict=True))),),
            places,
        )
        for name, title, up, values, places in read
    ]
