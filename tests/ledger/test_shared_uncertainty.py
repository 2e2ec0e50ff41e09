"""Sums and differences of gauges that share readings, instruments or a vessel, against simulation and against the
`uncertainties` package (BSD, correlated variables by the same law of propagation, JCGM 100:2008, 5.2).
"""

from __future__ import annotations

import json
import random
import statistics
from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from distillery.alcoholometry.gauging.chain import Corrections, InstrumentNames, InstrumentUncertainty, LastingShares
from distillery.alcoholometry.gauging.gauge import gauge_by_dip, gauge_by_dip_chain
from distillery.alcoholometry.obscuration import Obscuration
from ledger.posting.gauging import Method, Readings, as_text
from tests.ledger.shared_uncertainty import (
    KeptGauge,
    KeptReading,
    as_if_apart_ul,
    correlation_of,
    covariance_ul2,
    kept_gauge,
    sum_components,
    sum_uncertainty_ul,
)

LITRE = 1_000_000


def row(part: str, instrument: str, u: float, lpa: float, **more: object) -> dict[str, object]:
    plain = {
        "part": part,
        "column": part,
        "of": "",
        "instrument": instrument,
        "value": 1.0,
        "unit": "",
        "u": u,
        "lpa": lpa,
        "percent": 0.0,
    }
    return {**plain, **more}


def chain(*rows: dict[str, object]) -> str:
    return json.dumps({"day": "2027-03-04", "readings": rows})


def test_two_gauges_of_one_vessel_share_its_calibration_and_a_difference_loses_it() -> None:
    """A table wrong by a share is wrong by the same share before and after: worked by hand, 0.2 % of 100 LPA."""
    before = kept_gauge(chain(row("", "calibration of SV1", 4.0, 0.5, column="", lasting=1.0)), record="T1")
    after = kept_gauge(chain(row("", "calibration of SV1", 3.0, 0.5, column="", lasting=1.0)), record="T2")
    assert before.uncertainty_ul == pytest.approx(2.0 * LITRE)
    assert sum_uncertainty_ul([(1, before), (-1, after)]) == pytest.approx(0.5 * LITRE)
    assert sum_uncertainty_ul([(1, before), (1, after)]) == pytest.approx(3.5 * LITRE)
    assert correlation_of(before, after) == pytest.approx(1.0)
    assert as_if_apart_ul([(1, before), (-1, after)]) == pytest.approx(2.5 * LITRE)


def test_a_temperature_read_once_for_two_dips_is_one_reading() -> None:
    """Washback before and after with one temperature: -0.3 and -0.1 LPA a degree leave -0.2 in the difference."""
    one = kept_gauge(chain(row("celsius", "T", 0.5, -0.3, column="before_celsius")), record="WR0001")
    two = kept_gauge(chain(row("celsius", "T", 0.5, -0.1, column="before_celsius")), record="WR0001")
    other = kept_gauge(chain(row("celsius", "T", 0.5, -0.1, column="before_celsius")), record="WR0002")
    assert sum_uncertainty_ul([(1, one), (-1, two)]) == pytest.approx(0.1 * LITRE)
    assert covariance_ul2(one, other) == 0.0


def test_a_gravity_taken_over_from_another_record_is_the_same_wherever_it_was_used() -> None:
    first = kept_gauge(chain(row("original_gravity", "S", 0.0002, 13e3, of="FE0001")), record="WR0001")
    second = kept_gauge(chain(row("original_gravity", "S", 0.0002, 7e3, of="FE0001")), record="WR0002")
    assert sum_uncertainty_ul([(1, first), (1, second)]) == pytest.approx(0.0002 * 20e3 * LITRE)


def test_the_lines_of_a_stock_take_are_readings_of_their_own() -> None:
    """Their columns have the same names; by squares, 3 and 4 make 5."""
    one = kept_gauge(chain(row("dip_mm", "D", 3.0, 1.0, column="gauge_dip_mm")), record="ST1", line="SV1")
    two = kept_gauge(chain(row("dip_mm", "D", 4.0, 1.0, column="gauge_dip_mm")), record="ST1", line="SV2")
    assert sum_uncertainty_ul([(1, one), (1, two)]) == pytest.approx(5.0 * LITRE)


def test_components_name_what_a_sum_hangs_on_largest_first() -> None:
    one = kept_gauge(chain(row("dip_mm", "D", 1.0, 1.0), row("celsius", "T", 1.0, -2.0, lasting=0.75)), record="A")
    parts = sum_components([(-1, one)])
    assert [part.source for part in parts] == ["lasting: T", "A: celsius", "A: dip_mm"]
    assert [part.signed for part in parts] == pytest.approx([3**0.5 * LITRE, 1 * LITRE, -1 * LITRE])


def test_a_gauge_without_readings_adds_nothing() -> None:
    assert kept_gauge("", record="X").uncertainty_ul == 0.0
    with pytest.raises(ValueError, match="Expecting value"):
        kept_gauge("no chain", record="X")


SHARES = LastingShares(dip_mm=0.0, celsius=0.5, percent=0.6)
U = InstrumentUncertainty(dip_mm=0.85, celsius=0.1, percent=0.07, calibration_share=0.0017, lasting=SHARES)
HIDDEN = Obscuration(0.6, determined_on=date(2027, 3, 1), source="invented", standard_uncertainty=0.05, of="SV1")
# (vessel, record, mm, litres a mm, °C, hydrometer, factor in the sum): invented.
GAUGES = (
    ("SV1", "TR0001", 1000.0, 2.48, 14.0, 61.0, 1.0),
    ("SV1", "TR0002", 400.0, 2.48, 12.0, 61.7, -1.0),
    ("SV2", "TR0003", 610.0, 2.4, 16.0, 60.2, -1.0),
)


def kept(vessel: str, record: str, mm: float, slope: float, celsius: float, shown: float) -> KeptGauge:
    made = gauge_by_dip_chain(
        litres_at_temperature=mm * slope,
        litres_per_mm=slope,
        celsius=celsius,
        hydrometer_percent=shown,
        u=U,
        corrections=Corrections(obscuration=HIDDEN if vessel == "SV1" else None),
        dip_mm=mm,
        instruments=InstrumentNames(vessel=f"calibration of {vessel}"),
    )
    readings = Readings(
        method=Method.SPIRIT_DIP,
        values={"dip_mm": mm, "celsius": celsius, "hydrometer_percent": shown},
        day=HIDDEN.determined_on,
        columns={"dip_mm": "dip_mm", "celsius": "celsius", "hydrometer_percent": "hydrometer_percent"},
    )
    return kept_gauge(as_text(made, readings), record=record)


def lpa(mm: float, slope: float, celsius: float, shown: float, share: float, hidden: float) -> float:
    """The whole calculation again for one draw."""
    plain = gauge_by_dip(
        litres_at_temperature=mm * slope * (1 + share), litres_per_mm=slope, celsius=celsius, hydrometer_percent=shown
    )
    return plain.litres20 * (plain.percent20 + hidden) / 100


def test_what_is_kept_with_gauges_gives_the_spread_of_a_simulated_difference() -> None:
    """3,000 draws of the non-linear calculation, shared errors drawn once: within 5 % (that many draws are good to
    1.3 % at one standard deviation)."""
    rng = random.Random(20270304)
    terms = [(factor, kept(*one)) for *one, factor in GAUGES]
    draws = []
    for _ in range(3000):
        thermometer = rng.gauss(0, U.celsius * SHARES.celsius**0.5)
        glass = rng.gauss(0, U.percent * SHARES.percent**0.5)
        hidden = rng.gauss(0, HIDDEN.standard_uncertainty)
        tables = {vessel: rng.gauss(0, U.calibration_share) for vessel in ("SV1", "SV2")}
        total = 0.0
        for vessel, _record, mm, slope, celsius, shown, factor in GAUGES:
            total += factor * lpa(
                mm + rng.gauss(0, U.dip_mm),
                slope,
                celsius + thermometer + rng.gauss(0, U.celsius * (1 - SHARES.celsius) ** 0.5),
                shown + glass + rng.gauss(0, U.percent * (1 - SHARES.percent) ** 0.5),
                tables[vessel],
                (HIDDEN.percent + hidden) if vessel == "SV1" else 0.0,
            )
        draws.append(total)
    found = sum_uncertainty_ul(terms) / LITRE
    assert found == pytest.approx(statistics.stdev(draws), rel=0.05)
    # Sharing matters: taken as apart the figure would be another by far more than that.
    assert abs(as_if_apart_ul(terms) / LITRE - found) > 0.1 * found


readings_of = st.lists(
    st.builds(
        KeptReading,
        source=st.sampled_from(["A: dip", "A: celsius", "B: dip", "FE1: og"]),
        instrument=st.sampled_from(["T1", "T2", "ALC"]),
        u=st.floats(0.01, 2),
        lpa=st.floats(-5, 5).filter(lambda slope: abs(slope) > 0.01),
        lasting=st.sampled_from([0.0, 0.25, 1.0]),
    ),
    min_size=1,
    max_size=4,
)


@given(gauges=st.lists(st.tuples(st.sampled_from([1.0, -1.0]), readings_of), min_size=1, max_size=4))
def test_any_signed_sum_agrees_with_the_uncertainties_package(
    gauges: list[tuple[float, list[KeptReading]]],
) -> None:
    """`uncertainties` keeps the variables each figure is made of, so it finds the shared parts by itself."""
    variables: dict[str, object] = {}

    def one(name: str) -> object:
        return variables.setdefault(name, ufloat(0, 1))

    total = 0.0
    for factor, readings in gauges:
        for reading in readings:
            chance, lasting = (1 - reading.lasting) ** 0.5, reading.lasting**0.5
            effect = factor * reading.lpa * reading.u
            total = total + effect * chance * one(reading.source) + effect * lasting * one(reading.instrument + "!")
    terms = [(factor, KeptGauge(tuple(readings))) for factor, readings in gauges]
    assert sum_uncertainty_ul(terms) / LITRE == pytest.approx(total.std_dev, rel=1e-9, abs=1e-9)
    largest_first = [abs(part.signed) for part in sum_components(terms)]
    assert all(before >= after for before, after in pairwise(largest_first))
