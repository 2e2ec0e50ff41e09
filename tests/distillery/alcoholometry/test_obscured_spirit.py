"""Obscuration as its own signed and dated figure."""

from datetime import date
from math import nan

import pytest

from distillery.alcoholometry.errors import NotANumber, OutOfRange
from distillery.alcoholometry.obscuration import (
    Obscuration,
    obscuration_by_distilling,
    true_percent_of_apparent,
)

DAY = date(2027, 3, 9)


def test_distilled_less_apparent():
    """Regulation (EC) 2870/2000, Annex I: the distillate made up to volume shows the real strength."""
    found = obscuration_by_distilling(apparent_percent=39.2, distilled_percent=40.1, determined_on=DAY)
    assert found.percent == pytest.approx(0.9)
    assert found.determined_on == DAY
    assert "2870/2000" in found.source
    assert true_percent_of_apparent(39.2, found) == pytest.approx(40.1)


def test_obscuration_keeps_its_sign():
    assert true_percent_of_apparent(63.5, Obscuration(-0.1, DAY, "sample distilled")) == pytest.approx(63.4)


def test_refusals():
    with pytest.raises(OutOfRange):
        true_percent_of_apparent(99.9, Obscuration(0.5, DAY, "sample distilled"))
    with pytest.raises(OutOfRange):
        Obscuration(35.0, DAY, "sample distilled")
    with pytest.raises(NotANumber):
        Obscuration(nan, DAY, "sample distilled")
