"""What a regauge says beside what its cask should hold by now: contents, band, rates, and a picture of its years."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from typing import Final

from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import (
    Expected,
    book_without,
    expected_contents,
    filling_of,
    standing_gauges,
)
from batches.steps.shared.judged import u95_of_difference
from batches.steps.shared.site_figures import row_of
from distillery import figures
from distillery.alcoholometry.strength import ETHANOL_KG_PER_M3_20, percent_vol_of_mass_fraction
from distillery.charts.plots import Line, Plot
from distillery.clock.reading import site_day
from distillery.pages import Fact, Kind, State
from distillery.process.maturing import Gauged, beside_band
from distillery.rules.cask_loss import yearly_loss_percent, years_between
from distillery.rules.in_force import NoRuleInForce, cask_band
from distillery.rules.models import ONE
from ledger.models import Leg

WOOD_HELD: Final = "held by the wood in the first year"
# Between two gauges nearer than this a rate is mostly the gauges' own doubt; common practice, no source.
SHORTEST_YEARS: Final = 0.1
POINTS_A_YEAR: Final = 4
SAID: Final = {
    Gauged.BELOW: State(Kind.OUT, "Below its band"),
    Gauged.GAINED: State(Kind.OUT, "Weigh again"),
    Gauged.HOLD: State(Kind.OUT, "Hold"),
}


def beside_its_band(written: Completed) -> Gauged:
    """What the gauge says beside the band of its cask and its book. Raises Ungaugeable."""
    measured, book = written.quantity(""), _book_ul(written)
    expected = _expected(written)
    return beside_band(
        lpa=measured.pure_ul / ONE,
        least_lpa=max(0, book if expected is None else expected.least_ul) / ONE,
        held_lpa=max(0, book) / ONE,
        u95_lpa=u95_of_difference(measured) / ONE,
    )


def asked(written: Completed) -> list[Note]:
    """What is asked before a regauge is saved that lies below its band, or finds more than the cask held."""
    said, code = beside_its_band(written), written.vessel("cask").code
    holds = figures.lpa(written.quantity("").pure_ul)
    expected = _expected(written)
    if said == Gauged.BELOW and expected is not None:
        sentence = (
            f"Cask {code} holds {holds} litres of pure alcohol; at least {figures.lpa(expected.least_ul)} are "
            "expected. Look for a leak and measure it again."
        )
    elif said in (Gauged.GAINED, Gauged.HOLD):
        sentence = (
            f"Cask {code} holds {holds} litres of pure alcohol, more than the {figures.lpa(_book_ul(written))} of its "
            "book by more than its readings can be wrong; a cask cannot gain. Is it this cask? Measure it again."
        )
    else:
        return []
    return [Note(written.amount_of(""), None, sentence)]


def facts(written: Completed, now: datetime) -> Sequence[Fact]:
    """Contents beside the book, what is expected, and what it lost a year."""
    measured, at = written.quantity(""), written.moment("at")
    found = [
        Fact("Held", figures.lpa(measured.pure_ul), "LPA", state=SAID.get(beside_its_band(written))),
        Fact("Book", figures.lpa(_book_ul(written)), "LPA"),
    ]
    expected = _expected(written)
    if expected is not None:
        since = f"since {figures.day(expected.since, year=True)}"
        band = f"{figures.lpa(expected.least_ul)} to {figures.lpa(expected.most_ul)}"
        found.append(Fact("Expected", figures.lpa(expected.middle_ul), "LPA", note=since))
        found.append(Fact("Band", band, "LPA", note="by the site's rate for its warehouse and kind"))
        years, filling = years_between(expected.since, at), filling_of(written.vessel("cask"), at)
        gauged_since = filling is None or expected.since > filling.movement.took_place_at
        if gauged_since and years >= SHORTEST_YEARS and expected.held_ul > 0:
            rate = yearly_loss_percent(expected.held_ul, max(0, measured.pure_ul), years)
            found.append(Fact("Loss a year since it was last measured", figures.number(rate, 2), "%", note=since))
    return [*found, *_since_filling(written, at)]


def _since_filling(written: Completed, at: datetime) -> list[Fact]:
    filling, measured = filling_of(written.vessel("cask"), at), written.quantity("")
    if filling is None or filling.pure_ul <= 0:
        return []
    filled_at = filling.movement.took_place_at
    years, since = years_between(filled_at, at), f"filled {figures.day(filled_at, year=True)}"
    found = []
    if years >= SHORTEST_YEARS:
        rate = yearly_loss_percent(filling.pure_ul, max(0, measured.pure_ul), years)
        fall = (_strength(filling) - measured.percent20) / years
        found.append(Fact("Loss a year since filling", figures.number(rate, 2), "%", note=since))
        found.append(Fact("Fall in strength a year", figures.number(fall, 2), "% vol", note=since))
    if 0 < years < 1:
        with suppress(NoRuleInForce):
            found.append(_held_by_wood(written, filling.pure_ul, years, at))
    return found


def _held_by_wood(written: Completed, filled_ul: int, years: float, at: datetime) -> Fact:
    """What dry wood may have taken up by now. Raises NoRuleInForce where the site has no figure for it."""
    row, expected = row_of(WOOD_HELD, site_day(at))
    most = (expected + 2 * row.spread_millionths / ONE) / 100.0
    cask = written.vessel("cask").cask
    band = cask_band(cask.warehouse, cask.kind, site_day(at)).yearly
    held = filled_ul * (band.left_after(years).middle - band.left_after(years, wood_held=most).middle)
    note = f"up to {100 * most:.0f} % of the filling by the end of its first year; no part of the band"
    return Fact("The wood may hold", figures.lpa(round(held)), "LPA", note=note)


def years_of_the_cask(written: Completed, now: datetime) -> list[Plot]:
    """Pure alcohol against years since filling: each gauge, this one last, over the band its kind keeps to."""
    vessel, at = written.vessel("cask"), written.moment("at")
    filling = filling_of(vessel, at)
    if filling is None or not written.has(written.amount_of("")):
        return []
    filled_at, filled_lpa = filling.movement.took_place_at, filling.pure_ul / ONE
    gauges = standing_gauges(vessel, filled_at, at, without=written.number)
    points = [(0.0, filled_lpa), *((years_between(filled_at, when), held / ONE) for when, held in gauges)]
    points.append((years_between(filled_at, at), written.quantity("").pure_ul / ONE))
    try:
        band = cask_band(vessel.cask.warehouse, vessel.cask.kind, site_day(at)).yearly
    except NoRuleInForce:
        return []
    last = max(points[-1][0], 1.0)
    steps = max(2, round(last * POINTS_A_YEAR))
    ages = [last * step / steps for step in range(steps + 1)]
    shares = [(age, band.left_after(age)) for age in ages]
    return [
        Plot(
            "years",
            f"Cask {vessel.code} over its years",
            "years since it was filled",
            "Litres of pure alcohol",
            (
                Line("Measured", tuple(points)),
                Line("Expected", tuple((age, filled_lpa * left.middle) for age, left in shares), dashed=True),
            ),
            band=tuple((age, filled_lpa * left.least, filled_lpa * left.most) for age, left in shares),
            band_label="band of its warehouse and kind",
        )
    ]


def _expected(written: Completed) -> Expected | None:
    try:
        return expected_contents(written.vessel("cask"), written.moment("at"), without=written.number)
    except NoRuleInForce:
        return None


def _book_ul(written: Completed) -> int:
    return book_without(written.account("cask"), written.moment("at"), written.number).pure_ul


def _strength(filling: Leg) -> float:
    ethanol_g = filling.pure_ul / ONE * ETHANOL_KG_PER_M3_20
    return percent_vol_of_mass_fraction(ethanol_g / filling.mass_g)
