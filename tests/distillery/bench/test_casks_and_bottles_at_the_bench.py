"""Years in a cask, bottles checked, a line's loss and duty at the bench, by rows of tests/data/process_checks.csv."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from tests.distillery.bench.bench_plant import facts, make_plant, value
from tests.distillery.process.process_checks import expected, inputs, tolerance

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


def told(stranger: Client, **given: str) -> dict[str, str]:
    """All that stands beside each label of checked bottles, the word of its state included."""
    page = stranger.get("/bench/bottles/", given).content.decode()
    return dict(re.findall(r"<dt>([^<]*)</dt><dd>((?:(?!</dd>).)*)", page, re.DOTALL))


def shown(stranger: Client, tool: str, **given: str) -> dict[str, str]:
    return facts(stranger.get(f"/bench/{tool}/", given))


YEARS = {"filled_lpa": "127", "years": "10", "least_percent": "1", "most_percent": "3", "wood_percent": "0"}


def test_what_a_cask_should_hold_after_ten_years(stranger: Client) -> None:
    """P081 to P083: process reference, section H."""
    found = shown(stranger, "years", **YEARS)
    assert value(found["Should hold"]) == pytest.approx(expected("P081"), abs=tolerance("P081"))
    low, high = (float(one) for one in found["Band"].removesuffix(" LPA").split(" to "))
    assert low == pytest.approx(expected("P082"), abs=tolerance("P082"))
    assert high == pytest.approx(expected("P083"), abs=tolerance("P083"))


def test_dry_wood_takes_its_share_once(stranger: Client) -> None:
    """127 × 0.97 × 0.98^10 = 100.66; up to 3 % is common practice, no source."""
    found = shown(stranger, "years", **YEARS | {"wood_percent": "3"})
    assert value(found["Should hold"]) == pytest.approx(100.66, abs=0.01)


def test_what_a_gauge_says_a_cask_lost_a_year(stranger: Client) -> None:
    """P087, and 113 LPA of 120 after three years lie within 1 to 3 % a year."""
    given = inputs("P087")
    found = shown(
        stranger,
        "years",
        **YEARS | {"filled_lpa": f"{given['lpa_1']:g}", "years": f"{given['years']:g}", "held_lpa": "113"},
    )
    assert value(found["Lost a year"]) == pytest.approx(expected("P087"), abs=tolerance("P087"))
    assert found["The gauge beside its band"] == "within it"
    below = shown(stranger, "years", **YEARS | {"held_lpa": "90"})
    assert below["The gauge beside its band"] == "3.65 LPA below the least expected"


def test_how_strong_it_is_by_then(stranger: Client) -> None:
    """P085."""
    found = shown(stranger, "years", **YEARS | {"filled_percent": "63.5", "bulk_percent": "1.6"})
    assert value(found["Strength now"]) == pytest.approx(expected("P085"), abs=tolerance("P085"))


def test_the_band_is_the_sites_until_another_is_typed(stranger: Client) -> None:
    page = stranger.get("/bench/years/").content.decode()
    assert 'name="least_percent" value="1"' in page
    assert 'name="most_percent" value="3"' in page


BOTTLES = {"nominal_ml": "700", "fills": "700.4 701 698.6"}


def test_packers_rules(stranger: Client) -> None:
    """P090: 15 mL of 700 (SI 2006/659); T1 685 and T2 670."""
    found = shown(stranger, "bottles", **BOTTLES)
    assert value(found["Tolerable negative error"]) == expected("P090")
    assert (value(found["T1"]), value(found["T2"])) == (685, 670)
    assert found["Mean"] == "700.00 mL"
    assert found["Below T1"] == "0 of 3"


def test_one_below_t2_breaks_two_rules_and_the_mean_a_third(stranger: Client) -> None:
    """P091: 668 mL in a bottle of 700."""
    found = told(stranger, **BOTTLES | {"fills": "700.4 668 701"})
    assert [name for name, text in found.items() if "Breaks the rule" in text] == ["Mean", "Below T1", "Below T2"]


def test_a_strength_beside_its_label(stranger: Client) -> None:
    """P092: 46.35 beside 46.0 is outside 0.3."""
    found = told(stranger, **BOTTLES | {"label_percent": "46.0", "measured_percent": "46.35"})
    assert found["Beside the label"].startswith("0.35 % vol above it, at most 0.3")
    assert "Breaks the rule" in found["Beside the label"]


LINE = {
    "drawn_lpa": "1.95",
    "bottles": "6",
    "centilitres": "70",
    "label_percent": "46",
    "returned_lpa": "0",
    "samples_lpa": "0",
}


def test_where_the_alcohol_of_a_line_went(stranger: Client) -> None:
    """P088: six of 70 cl at 46 % are 1.932 LPA; 0.018 of 1.95 is 0.92 %."""
    found = shown(stranger, "line-loss", **LINE)
    assert value(found["In bottles by their label"]) == pytest.approx(expected("P088"), abs=tolerance("P088"))
    assert found["Line loss"].startswith("0.018 LPA missing")
    assert "0.92 %" in found["Line loss"]


def test_what_was_given_away_over_the_label(stranger: Client) -> None:
    """P089: 2 mL in each of 5,000 bottles at 46 % are 4.6 LPA."""
    found = shown(stranger, "line-loss", **LINE | {"drawn_lpa": "1620", "bottles": "5000", "over_ml": "2"})
    assert value(found["Of it in the bottles, over their label"]) == pytest.approx(expected("P089"))


DUTY = {"containers": "120", "label_centilitres": "70", "label_percent": "40.0", "day": "2026-11-02"}


def test_duty_on_bottles(stranger: Client) -> None:
    """120 bottles of 70 cl at 40.0 % on 2 November 2026: 33.6000 LPA at 33.99 are 1,142.06 (HMRC, Alcohol Duty rates
    from 1 February 2026; part-pence dropped)."""
    found = shown(stranger, "duty", **DUTY)
    assert found["Pure alcohol"] == "33.6000 LPA"
    assert found["Duty"] == "1,142.06 £"
    assert "33.99" in found["Rate"]


def test_the_greatest_of_the_volumes_said_counts(stranger: Client) -> None:
    """SI 2023/806, regulation 2: 75 cl on the invoice of a bottle labelled 70 are 36 LPA of 120."""
    assert shown(stranger, "duty", **DUTY | {"document_centilitres": "75"})["Pure alcohol"] == "36.0000 LPA"
    assert shown(stranger, "duty", **DUTY | {"document_centilitres": "50"})["Pure alcohol"] == "33.6000 LPA"


@pytest.mark.parametrize(
    ("tool", "given", "said"),
    [
        ("years", YEARS | {"filled_lpa": "0"}, "This is nothing: enter what the cask held."),
        ("years", YEARS | {"years": "0"}, "enter more than 0 and at most 100"),
        ("years", YEARS | {"most_percent": "0.5"}, "This is less than the least"),
        ("years", YEARS | {"filled_percent": "63.5"}, "enter this too"),
        ("bottles", BOTTLES | {"fills": "700 x"}, "One of them cannot be read"),
        ("bottles", BOTTLES | {"nominal_ml": "1"}, "No tolerable negative error is known for 1 mL"),
        ("duty", DUTY | {"day": "2099-01-01"}, "is not known"),
        ("duty", DUTY | {"label_centilitres": "0"}, "This is nothing"),
        ("line-loss", LINE | {"drawn_lpa": "0"}, "Nothing was drawn from the vat"),
    ],
)
def test_what_cannot_be_is_said(stranger: Client, tool: str, given: dict[str, str], said: str) -> None:
    assert said in stranger.get(f"/bench/{tool}/", given).content.decode()
