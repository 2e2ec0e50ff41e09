"""Median, middle eight tenths and deviation of like batches, against numpy's linear quantiles on the same figures."""

from __future__ import annotations

import numpy as np
import pytest
from made_up import run_of

from batches.running.like_batches import LikeBatches, curve_of
from batches.sheets.sheet import Field


def _fermentation(first: float, last: float) -> object:
    readings = [(0.0, "gravity", f"{first:.4f}"), (40.0, "gravity", f"{last:.4f}")]
    return run_of("fermentation", readings=readings, ended=60.0, number="FE0001")


FIRST = (1.0600, 1.0612, 1.0588, 1.0607, 1.0625, 1.0593, 1.0601)
LAST = (0.9990, 0.9975, 0.9982, 0.9995, 0.9981, 0.9978, 0.9986)


def test_quantiles_between_two_readings() -> None:
    like = LikeBatches(tuple(_fermentation(*pair) for pair in zip(FIRST, LAST, strict=True)))  # type: ignore[misc]
    at_ten = [first + (last - first) * 10 / 40 for first, last in zip(FIRST, LAST, strict=True)]
    found = like.at("gravity", 10.0)
    assert found is not None
    assert (found.low, found.median, found.high) == pytest.approx(tuple(np.quantile(at_ten, (0.1, 0.5, 0.9))))
    assert (found.mean, found.deviation) == pytest.approx((np.mean(at_ten), np.std(at_ten, ddof=1)))
    assert [spread.number for spread in like.band("gravity")] == [7] * 41


def test_fewer_than_five_are_not_usual() -> None:
    like = LikeBatches(tuple(_fermentation(*pair) for pair in list(zip(FIRST, LAST, strict=True))[:4]))  # type: ignore[misc]
    assert like.at("gravity", 10.0) is None
    assert like.band("gravity") == []


def test_nothing_is_said_of_an_hour_nobody_read_after() -> None:
    like = LikeBatches(tuple(_fermentation(*pair) for pair in zip(FIRST, LAST, strict=True)))  # type: ignore[misc]
    assert like.at("gravity", 41.0) is None


def test_a_gravity_read_with_its_sample_s_temperature_is_drawn_at_20_degrees() -> None:
    run = run_of(
        "mash", readings=[(1.0, "gravity", "1.0700"), (1.0, "sample_celsius", "30"), (2.0, "gravity", "1.0650")]
    )
    field = run.sheet.reading("gravity")
    assert isinstance(field, Field)
    (_, first), (_, second) = curve_of(run, field)
    # Water is 0.998207 at 20 °C and 0.995649 at 30 (Tanaka 2001); glass swells by 0.00025 over ten kelvin.
    assert first == pytest.approx(1.07 * 0.99975 * 0.998207 / 0.995649, abs=1e-5)
    assert second == 1.065
