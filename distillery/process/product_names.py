"""Whether a spirit may bear a name: each requirement passed, failed or not proven by what is known of it.

A requirement asks that one measure is at least, at most or exactly something. What is not known proves nothing: a
missing value is never a pass (assimilated Regulation (EC) 110/2008; the figures with their sources are dated rules of
the site). Strengths in % vol at 20 °C, substances in grams per hectolitre of pure alcohol, sweetening in grams a litre.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


class Outcome(StrEnum):
    """What a check comes to."""

    PASS = "pass"
    FAIL = "fail"
    NOT_PROVEN = "not proven"


class Way(StrEnum):
    """How a measure is held to its limit: a figure at least, at most or below, words that it is or has among them."""

    AT_LEAST = "at least"
    AT_MOST = "at most"
    BELOW = "below"
    IS = "is"
    INCLUDES = "includes"


@dataclass(frozen=True, slots=True)
class Requirement:
    """What one name asks of one measure: a limit in the unit, or words that have to stand there."""

    code: str
    said: str
    measure: str
    way: Way
    limit: float | None = None
    words: str = ""
    unit: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of a measure: a figure or words, and where it comes from. `share` is how much of the alcohol it
    speaks for, 0 to 1. `or_more`: the figure may be higher and is not lower, so that it can pass and cannot fail.
    """

    value: float | str
    proof: str
    share: float = 1.0
    or_more: bool = False


@dataclass(frozen=True, slots=True)
class Checked:
    """One requirement with what was found and what it comes to, in a sentence."""

    requirement: Requirement
    outcome: Outcome
    found: str
    proof: str = ""


# Shares of alcohol that are known add up to all of it within this.
WHOLE = 0.9995


def check(requirements: Sequence[Requirement], evidence: Mapping[str, Sequence[Evidence]]) -> list[Checked]:
    """Holds each requirement against what is known of its measure, in order.

    Every part of the alcohol has to keep a requirement: one that does not fails it, however little it is; one of which
    nothing is known leaves it not proven. Example: a strength of 94.5 where at least 96.0 % vol is asked for fails.
    """
    return [_checked(one, evidence.get(one.measure, ())) for one in requirements]


def as_a_whole(checked: Sequence[Checked]) -> Outcome:
    """A name is borne where all passes; one failure fails it, else one that is not proven leaves it not proven."""
    outcomes = {one.outcome for one in checked}
    if Outcome.FAIL in outcomes:
        return Outcome.FAIL
    return Outcome.PASS if outcomes == {Outcome.PASS} else Outcome.NOT_PROVEN


def _checked(requirement: Requirement, known: Sequence[Evidence]) -> Checked:
    broken = [one for one in known if not one.or_more and not _keeps(requirement, one.value)]
    known = [one for one in known if _keeps(requirement, one.value) or not one.or_more]
    if broken:
        worst = broken[0]
        return Checked(
            requirement, Outcome.FAIL, f"{_said(worst.value, requirement.unit)}: {_beside(requirement)}", worst.proof
        )
    proofs = "; ".join(dict.fromkeys(one.proof for one in known if one.proof))
    if not known:
        return Checked(requirement, Outcome.NOT_PROVEN, "not known")
    found = ", ".join(dict.fromkeys(_said(one.value, requirement.unit) for one in known))
    shared = sum(one.share for one in known)
    if shared < WHOLE:
        return Checked(
            requirement, Outcome.NOT_PROVEN, f"{found} for {100 * shared:.1f} % of the alcohol alone", proofs
        )
    return Checked(requirement, Outcome.PASS, found, proofs)


def _keeps(requirement: Requirement, value: float | str) -> bool:
    wanted = {one.strip().casefold() for one in requirement.words.split("|")}
    if requirement.way == Way.INCLUDES:
        return any(one in str(value).casefold() for one in wanted)
    if requirement.way == Way.IS or isinstance(value, str):
        return str(value).strip().casefold() in wanted
    if requirement.limit is None:
        raise ValueError(f"{requirement.code} asks for a figure and gives none.")
    if requirement.way == Way.BELOW:
        return value < requirement.limit
    return value >= requirement.limit if requirement.way == Way.AT_LEAST else value <= requirement.limit


def _beside(requirement: Requirement) -> str:
    if requirement.limit is None:
        word = "without" if requirement.way == Way.INCLUDES else "not"
        return f"{word} {requirement.words.replace('|', ' or ')}"
    decimals = 1 if "vol" in requirement.unit else 0 if requirement.limit == int(requirement.limit) else 1
    word = {Way.AT_LEAST: "below", Way.AT_MOST: "over"}.get(requirement.way, "not below")
    return f"{word} {requirement.limit:.{decimals}f} {requirement.unit}".strip()


def _said(value: float | str, unit: str) -> str:
    if isinstance(value, str):
        return value
    decimals = 1 if "vol" in unit else 2
    figure = f"{value:.{decimals}f}"
    if decimals == 2 and "." in figure:
        figure = figure.rstrip("0").rstrip(".")
    return f"{figure} {unit}".strip()
