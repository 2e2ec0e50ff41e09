"""What a name needs, against the check values of the process: pass, fail or not proven, never a pass for nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.process.product_names import Evidence, Outcome, Requirement, Way, as_a_whole, check
from tests.distillery.process.process_checks import check as row_of

BASE = Requirement("E02", "base spirit distilled to", "base strength", Way.AT_LEAST, 96.0, unit="% vol")
METHANOL = Requirement("E07", "methanol", "methanol", Way.AT_MOST, 30.0, unit="g/hL")
HEARTS = Requirement("E26", "distillate", "distillate strength", Way.AT_LEAST, 70.0, unit="% vol")
JUNIPER = Requirement("E23", "taste", "predominant taste", Way.IS, words="juniper")


@pytest.mark.parametrize(
    ("number", "requirement", "given_as"),
    [("P069", BASE, "abv"), ("P070", METHANOL, "g_per_hl_100pct"), ("P071", HEARTS, "hearts_average_abv")],
)
def test_gates(number: str, requirement: Requirement, given_as: str) -> None:
    row = row_of(number)  # Regulation 110/2008 Annex I(1) and II(22)
    found = check([requirement], {requirement.measure: [Evidence(row.given(given_as), "certificate")]})[0]
    assert found.outcome == Outcome.FAIL
    # 'hold: below 96.0 % vol' is what the row asks for.
    assert found.found.split(": ")[1].startswith(row.expected.removeprefix("hold: "))


@given(st.floats(0, 97.2), st.floats(0, 97.2))
def test_at_least_passes_at_its_limit_and_above(limit: float, value: float) -> None:
    asked = Requirement("X", "strength", "strength", Way.AT_LEAST, limit, unit="% vol")
    found = check([asked], {"strength": [Evidence(value, "read")]})[0]
    assert (found.outcome == Outcome.PASS) == (value >= limit)


def test_what_is_not_known_is_not_proven() -> None:
    found = check([BASE, METHANOL], {})
    assert [one.outcome for one in found] == [Outcome.NOT_PROVEN, Outcome.NOT_PROVEN]
    assert as_a_whole(found) == Outcome.NOT_PROVEN
    assert as_a_whole([]) == Outcome.NOT_PROVEN


def test_every_part_of_the_alcohol_has_to_keep_it() -> None:
    two = {"base strength": [Evidence(96.4, "lot A", 0.9), Evidence(94.5, "lot B", 0.1)]}
    assert check([BASE], two)[0].outcome == Outcome.FAIL
    some = {"base strength": [Evidence(96.4, "lot A", 0.9)]}
    found = check([BASE], some)[0]
    assert (found.outcome, found.found) == (Outcome.NOT_PROVEN, "96.4 % vol for 90.0 % of the alcohol alone")
    both = {"base strength": [Evidence(96.4, "lot A", 0.9), Evidence(96.1, "lot C", 0.1)]}
    assert check([BASE], both)[0].outcome == Outcome.PASS


def test_words_that_have_to_stand_there() -> None:
    assert check([JUNIPER], {"predominant taste": [Evidence("Juniper", "tasting")]})[0].outcome == Outcome.PASS
    assert check([JUNIPER], {"predominant taste": [Evidence("citrus", "tasting")]})[0].outcome == Outcome.FAIL


def test_words_among_others() -> None:
    asked = Requirement("E24b", "redistilled with juniper", "botanical", Way.INCLUDES, words="juniper")
    found = check([asked], {"botanical": [Evidence("coriander seed, juniper berries", "TS1")]})[0]
    assert found.outcome == Outcome.PASS
    found = check([asked], {"botanical": [Evidence("coriander seed", "TS1")]})[0]
    assert (found.outcome, found.found) == (Outcome.FAIL, "coriander seed: without juniper")


def test_what_may_be_more_can_pass_and_cannot_fail() -> None:
    below = check([BASE], {"base strength": [Evidence(94.5, "TS1", or_more=True)]})[0]
    above = check([BASE], {"base strength": [Evidence(96.3, "TS1", or_more=True)]})[0]
    assert (below.outcome, above.outcome) == (Outcome.NOT_PROVEN, Outcome.PASS)


def test_one_failure_fails_the_name() -> None:
    known = {"base strength": [Evidence(96.4, "lot A")], "methanol": [Evidence(32.0, "lot A")]}
    assert as_a_whole(check([BASE, METHANOL, HEARTS], known)) == Outcome.FAIL
    assert as_a_whole(check([BASE], known)) == Outcome.PASS
