"""Every row of tests/data/process_checks.csv is checked somewhere; this prints where."""

from __future__ import annotations

import re
from collections import defaultdict
from pathlib import Path
from typing import Final

import pytest

from distillery.alcoholometry.proof import celsius_of_fahrenheit
from distillery.alcoholometry.wort import extract_percent_of_litre_degrees, predicted_spirit_yield_lpa_per_tonne
from distillery.process.distilling import Said, judged_gain, judged_loss, percent_of
from tests.distillery.process.process_checks import check, inputs, numbers

TESTS: Final = Path(__file__).resolve().parents[2]
NUMBER: Final = re.compile(r"\bP(?:\d{3})\b")


def checked_where() -> dict[str, list[str]]:
    """The test files that name each row."""
    found = defaultdict(list)
    for file in sorted(TESTS.rglob("test_*.py")):
        if file != Path(__file__).resolve():
            for number in sorted(set(NUMBER.findall(file.read_text(encoding="utf-8")))):
                found[number].append(str(file.relative_to(TESTS)))
    return found


HERE: Final = {"P014", "P097", "P101", "P102", "P121", "P122", "P123", "P124"}


def test_every_row_is_checked_somewhere() -> None:
    where = checked_where()
    print(*(f"{number}: {', '.join(files)}" for number, files in sorted(where.items())), sep="\n")
    assert where.keys() | HERE == set(numbers())


def test_a_loss_that_is_within_what_one_run_can_tell() -> None:
    given = inputs("P097")
    judged = judged_loss(given["loss_pct"], usual_percent=given["usual_mean_pct"], u95_percent=given["u95_pct"])
    assert check("P097").expected.startswith("not significant")
    assert judged not in (Said.AMBER, Said.RED)


@pytest.mark.parametrize("number", ["P121", "P122"])
def test_the_strength_a_washback_has_to_have(number: str) -> None:
    # Common practice, no source: what a set has to yield over the litres of its wash, before its loss.
    row = check(number)
    made = row.given("lpa") / (1.0 - float(row.inputs.get("loss", "0")))
    assert row.met_by(percent_of(made, row.given("wash_l"), what="Alcohol"))


def test_fahrenheit_of_an_instrument_of_proof() -> None:
    row = check("P014")
    assert row.met_by(celsius_of_fahrenheit(row.given("f")))


@pytest.mark.parametrize(("number", "judged"), [("P101", Said.AMBER), ("P102", Said.RED)])
def test_a_gain_that_is_measured_again_or_held(number: str, judged: Said) -> None:
    row = check(number)
    assert row.expected.startswith(judged)
    assert judged_gain(row.given("gain_pct"), u95_percent=row.given("u95_pct")) == judged


def test_the_original_gravity_behind_a_yield() -> None:
    row = check("P123")  # J. Inst. Brew. 102 (1996) 433-437; the set of figures is common practice, no source
    degrees = (float(row.expected) - 1000.0) * row.given("wash_l") / row.given("malt_kg")
    promised = predicted_spirit_yield_lpa_per_tonne(
        soluble_extract_percent=extract_percent_of_litre_degrees(degrees),
        fermentability_percent=row.given("fermentability"),
    )
    # A tenth of a degree is a part in 610 of the yield.
    near = row.given("lpa") * float(row.tolerance) / (float(row.expected) - 1000.0)
    assert promised * row.given("malt_kg") / 1000.0 == pytest.approx(row.given("lpa"), abs=near)


def test_the_fermentable_extract_behind_a_yield() -> None:
    row = check("P124")  # J. Inst. Brew. 102 (1996) 433-437
    fermentable = float(row.expected)
    promised = predicted_spirit_yield_lpa_per_tonne(soluble_extract_percent=fermentable, fermentability_percent=100)
    assert promised == pytest.approx(row.given("lpa_per_t"), abs=6.06 * float(row.tolerance))
