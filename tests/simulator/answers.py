"""What the program found in a month, held against what had been planted in it.

A slip is named when the record and column it was made in stand in the first line of a finding; alone, or first, when
they stand at its head. A transfer nobody wrote down is named by both its vessels, a leaking cask by an enquiry into
its regauge, a lasting leak by a watch on its kind of run. Everything else that is raised is a false finding.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

RAISED = ("enquiry", "continuity", "likeness", "watch")
LEAKING = {"wash": "wash run", "spirit": "spirit run"}


@dataclass
class Answer:
    """One planted fault and how far the program came with it."""

    kind: str
    what: str
    found: bool = False
    in_first_line: bool = False
    at_its_head: bool = False
    alone: bool = False
    runs_to_signal: int | None = None
    range_holds_onset: bool | None = None
    share_ratio: float | None = None
    share: float = 0.0


@dataclass
class Marked:
    """A month marked: an answer for each planted fault, and the findings that answer to none."""

    answers: list[Answer] = field(default_factory=list)
    false: list[str] = field(default_factory=list)
    gauge_again: int = 0


def mark(
    planted: Sequence[Mapping[str, Any]], found: Sequence[Mapping[str, Any]], regauges: Mapping[str, str]
) -> Marked:
    """Marks the findings of a month, as the command prints them; `regauges` is cask -> record of its regauge."""
    marked = Marked(gauge_again=sum(one["kind"] == "gauge again" for one in found))
    answered: set[int] = set()
    for fault in planted:
        answer, places = _answer(fault, found, regauges)
        marked.answers.append(answer)
        answered |= places
    marked.false = [
        f"{one['kind']} {one['record']} {one['operation']} {one['difference_lpa']:.1f} LPA: "
        + "; ".join(cause["cause"] for cause in one["likely"][:1])
        for place, one in enumerate(found)
        if one["kind"] in RAISED and place not in answered
    ]
    return marked


def _answer(
    fault: Mapping[str, Any], found: Sequence[Mapping[str, Any]], regauges: Mapping[str, str]
) -> tuple[Answer, set[int]]:
    if "leak" in fault:
        return _leak(fault, found)
    if "cask_leak" in fault:
        record = regauges.get(fault["cask_leak"], "")
        answer = Answer("cask leak", record, share=fault["share"])
        places = {
            i for i, one in enumerate(found) if one["kind"] in RAISED and record in (one["record"], *one["explains"])
        }
        answer.found = answer.in_first_line = bool(places)
        return answer, places
    if fault["field"] is None:
        return _transfer(fault, found)
    return _slip(fault, found)


def _slip(fault: Mapping[str, Any], found: Sequence[Mapping[str, Any]]) -> tuple[Answer, set[int]]:
    answer = Answer(_kind(fault["field"]), f"{fault['record']} {fault['field']} {fault['was']} -> {fault['written']}")
    wanted = (fault["record"], fault["field"])
    places: set[int] = set()
    for place, one in enumerate(found):
        lines = [[(cause["record"], cause["field"]) for cause in line["causes"]] for line in one["lines"]]
        if any(wanted in line for line in lines) or fault["record"] in (one["record"], *one["explains"]):
            if one["kind"] == "watch":
                continue
            places.add(place)
            answer.found = True
        if lines and wanted in lines[0]:
            answer.in_first_line = True
            answer.at_its_head |= lines[0][0] == wanted
            answer.alone |= lines[0] == [wanted]
    return answer, places


def _transfer(fault: Mapping[str, Any], found: Sequence[Mapping[str, Any]]) -> tuple[Answer, set[int]]:
    pair = (fault["from_vessel"], fault["to_vessel"])
    answer = Answer("missing transfer", f"{pair[0]} to {pair[1]} at {fault['at']}")
    places: set[int] = set()
    for place, one in enumerate(found):
        texts = [" or ".join(cause["cause"] for cause in line["causes"]) for line in one["lines"]]
        named = [f"from {pair[0]} to {pair[1]} " in text for text in texts]
        partly = [f"left {pair[0]} " in text or f"came into {pair[1]} " in text for text in texts]
        if any(named) or (partly and partly[0]):
            places.add(place)
            answer.found = True
        if named and named[0]:
            answer.in_first_line = True
            answer.at_its_head |= f"from {pair[0]} to {pair[1]} " in one["lines"][0]["causes"][0]["cause"]
            answer.alone |= len(one["lines"][0]["causes"]) == 1
    return answer, places


def _leak(fault: Mapping[str, Any], found: Sequence[Mapping[str, Any]]) -> tuple[Answer, set[int]]:
    operation, first = LEAKING[fault["leak"]], fault["from_n"]
    answer = Answer(f"{fault['leak']} leak", f"from run {first}", share=fault["share"])
    places: set[int] = set()
    for place, one in enumerate(found):
        if one["kind"] != "watch" or one["operation"] != operation:
            continue
        places.add(place)
        answer.found = answer.in_first_line = True
        answer.runs_to_signal = int(one["record"][2:]) - first + 1
        earliest, latest = (int(record[2:]) for record in one["since"])
        answer.range_holds_onset = earliest <= first <= latest
        answer.share_ratio = one["share"] / fault["share"]
    return answer, places


def _kind(column: str) -> str:
    for end, kind in (
        ("dip_mm", "dip"),
        ("celsius", "temperature"),
        ("hydrometer_percent", "hydrometer"),
        ("gravity", "gravity"),
        ("kg", "weight"),
        ("bottles", "bottles"),
    ):
        if column.endswith(end):
            return kind
    return column
