"""Standard uncertainties from limits, and sums of results that share a source."""

from math import nan, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values, covariance_matrix, ufloat

from distillery.alcoholometry.errors import NegativeQuantity, NotANumber, OutOfRange, OutsideTable
from distillery.alcoholometry.gauging.limits import (
    ALCOHOLOMETER,
    THERMOMETER,
    limit_by_division,
    scale_limit_kilograms,
    scale_standard_uncertainty_kg,
)
from distillery.alcoholometry.uncertainty import (
    Component,
    certificate,
    combined,
    correlation,
    covariance,
    in_quadrature,
    rectangular,
    resolution,
    sensitivity,
    weighted,
)

sources = st.sampled_from(("thermometer", "dip rod", "vessel", "reading 1", "reading 2"))
components = st.lists(st.builds(Component, sources, st.floats(-1e6, 1e6)), max_size=6)


def test_limits_to_standard_uncertainties():
    """JCGM 100:2008, 4.3.7 (rectangular), F.2.2.1 (resolution), 4.3.3 (certificate)."""
    assert rectangular(0.2) == pytest.approx(0.2 / sqrt(3))
    assert resolution(1.0) == pytest.approx(0.288675, abs=1e-6)
    assert certificate(expanded=0.1, coverage_factor=2) == 0.05
    assert in_quadrature(0.3, 0.4) == pytest.approx(0.5)
    assert in_quadrature(rectangular(0.2), rectangular(0.3)) == pytest.approx(0.2082, abs=5e-5)
    for bad in (-0.1, nan):
        with pytest.raises((NegativeQuantity, NotANumber)):
            rectangular(bad)
    with pytest.raises(OutOfRange):
        certificate(expanded=0.1, coverage_factor=0)


def test_one_source_adds_and_two_sources_do_not():
    one = (Component("thermometer", 3.0), Component("thermometer", 4.0))
    two = (Component("thermometer", 3.0), Component("dip rod", 4.0))
    assert combined(one) == 7.0
    assert combined(two) == 5.0
    assert combined((Component("scale", 3.0), Component("scale", -3.0))) == 0.0
    assert correlation(one, one) == pytest.approx(1.0)
    assert correlation(two, (Component("dip rod", -1.0),)) == pytest.approx(-0.8)
    assert correlation(two, ()) == 0.0


@given(components, components, st.floats(-2, 2), st.floats(-2, 2))
def test_variance_of_a_sum(first, second, a, b):
    """JCGM 100:2008, 5.2.2: u² = a²u₁² + b²u₂² + 2ab u(1,2)."""
    whole = combined(weighted([(a, first), (b, second)])) ** 2
    parts = (a * combined(first)) ** 2 + (b * combined(second)) ** 2 + 2 * a * b * covariance(first, second)
    scale = (a * combined(first)) ** 2 + (b * combined(second)) ** 2
    assert whole == pytest.approx(parts, rel=1e-9, abs=1e-9 * scale + 1e-6)


def test_uncertainties_package_agrees_on_covariance():
    shared = ufloat(0, 2.0)
    theirs = covariance_matrix([1.5 * shared + ufloat(0, 1.0), -0.5 * shared + ufloat(0, 3.0)])
    first = (Component("shared", 3.0), Component("1", 1.0))
    second = (Component("shared", -1.0), Component("2", 3.0))
    assert covariance(first, second) == pytest.approx(theirs[0][1])
    x, y = correlated_values([0, 0], theirs)
    assert combined(weighted([(1, first), (-1, second)])) == pytest.approx((x - y).std_dev)


@given(st.floats(-1e6, 1e6), st.floats(0, 1))
def test_splitting_keeps_the_variance(signed, share):
    parts = Component("reading", signed).split(lasting_share=share, lasting="instrument")
    assert combined(parts) == pytest.approx(abs(signed))


def test_share_outside_is_refused():
    with pytest.raises(OutOfRange):
        Component("reading", 1.0).split(lasting_share=1.5, lasting="instrument")


def test_sensitivity_in_the_middle_and_at_the_edge():
    def root(x: float) -> tuple[float, ...]:
        if not 0 <= x <= 1:
            raise OutOfRange("outside 0 to 1")
        return (x * x, 3 * x)

    assert sensitivity(root, 0.5, step=0.001) == pytest.approx((1.0, 3.0))
    assert sensitivity(root, 1.0, step=0.001) == pytest.approx((1.999, 3.0))
    assert sensitivity(root, 0.0, step=0.001) == pytest.approx((0.001, 3.0))
    with pytest.raises(OutOfRange):
        sensitivity(root, 2.0, step=0.001)


def test_limits_by_division():
    """Serbian rule book on alcoholometers, Art. 3."""
    assert [limit_by_division(instrument=ALCOHOLOMETER, division=d).limit for d in (0.1, 0.2, 0.5, 1)] == [
        0.10,
        0.15,
        0.25,
        0.40,
    ]
    assert limit_by_division(instrument=THERMOMETER, division=0.5).limit == 0.25
    with pytest.raises(OutsideTable, match="certificate"):
        limit_by_division(instrument=ALCOHOLOMETER, division=0.3)


def test_limits_of_a_class_iii_scale():
    """UK SI 1995/1907 Sch. 2 para 4: 0.5 e to 500 e, 1 e to 2000 e, 1.5 e to 10 000 e; twice that in service."""
    for load, intervals in ((0, 0.5), (50, 0.5), (50.1, 1), (200, 1), (200.1, 1.5), (1000, 1.5)):
        found = scale_limit_kilograms(load_kg=load, interval_kg=0.1, in_service=False)
        assert found == pytest.approx(intervals * 0.1)
        assert scale_limit_kilograms(load_kg=load, interval_kg=0.1) == pytest.approx(intervals * 0.2)
    assert scale_standard_uncertainty_kg(load_kg=286.8, interval_kg=0.1) == pytest.approx(0.3 / sqrt(3))
    with pytest.raises(OutsideTable):
        scale_limit_kilograms(load_kg=1000.2, interval_kg=0.1)
    with pytest.raises(OutsideTable):
        scale_limit_kilograms(load_kg=1, interval_kg=0)
