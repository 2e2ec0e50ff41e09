"""Which rows of tests/data/process_checks.csv are checked, and where; those that are not yet, by name."""

from __future__ import annotations

import re
from collections import defaultdict
from pathlib import Path
from typing import Final

import pytest

from distillery.alcoholometry.wort import predicted_spirit_yield_lpa_per_tonne
from distillery.process.distilling import Said, judged_loss, percent_of
from tests.distillery.process.process_checks import check, inputs, numbers

TESTS: Final = Path(__file__).resolve().parents[2]
NUMBER: Final = re.compile(r"\bP(?:\d{3})\b")
# What they need is no part of the program yet: sums of casks, of the statistics of many runs.
NOT_YET: Final = {
    "P014": "Fahrenheit is read by instruments of proof alone, by way of their own sums",
    "P078": "a cask bought in whose document does not agree with itself",
    "P081": "a cask expected by its age",
    "P082": "the lower edge of its band",
    "P083": "the upper edge of its band",
    "P084": "a regauge below the band",
    "P085": "strength by age",
    "P086": "ethanol lost by a cask in pounds a year",
    "P087": "yearly loss from two regauges",
    "P101": "a gain at a gauge that is measured again",
    "P102": "a gain at a gauge that is held",
    **{f"P{number}": "cumulative sums and moving averages of many runs" for number in range(103, 117)},
    "P117": "flash point by strength",
    "P123": "original gravity that a malt and a volume let expect",
}


def checked_where() -> dict[str, list[str]]:
    """The test files that name each row."""
    found = defaultdict(list)
    for file in sorted(TESTS.rglob("test_*.py")):
        if file != Path(__file__).resolve():
            for number in sorted(set(NUMBER.findall(file.read_text(encoding="utf-8")))):
                found[number].append(str(file.relative_to(TESTS)))
    return found


HERE: Final = {"P097", "P121", "P122", "P124"}


def test_every_row_is_checked_or_named_as_not_yet() -> None:
    where = checked_where()
    print(*(f"{number}: {', '.join(files)}" for number, files in sorted(where.items())), sep="\n")
    assert not NOT_YET.keys() & (where.keys() | HERE), "take from NOT_YET what is checked now"
    assert where.keys() | HERE | NOT_YET.keys() == set(numbers())


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


def test_the_fermentable_extract_behind_a_yield() -> None:
    row = check("P124")  # J. Inst. Brew. 102 (1996) 433-437
    fermentable = float(row.expected)
    promised = predicted_spirit_yield_lpa_per_tonne(soluble_extract_percent=fermentable, fermentability_percent=100)
    assert promised == pytest.approx(row.given("lpa_per_t"), abs=6.06 * float(row.tolerance))
