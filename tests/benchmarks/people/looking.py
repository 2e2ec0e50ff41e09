"""What the books must say once the people have gone home: sentences on what is wrong, or nothing."""

from __future__ import annotations

import json
from collections import Counter
from itertools import zip_longest
from typing import Any


def wrong_with(done: dict[str, Any]) -> list[str]:
    """Everything acknowledged is there once, nothing is left uncompared, kept equals new, and the proof holds."""
    return [*_records(done), *_readings(done), *_comparisons(), *_proof()]


def _records(done: dict[str, Any]) -> list[str]:
    from batches.models import Posted, Version

    wrong = []
    written: dict[str, tuple[str, dict[str, str]]] = done["written"]
    typed: dict[str, list[dict[str, str]]] = {}
    for number, values in (
        Version.objects.filter(record__number__in=written).order_by("serial").values_list("record__number", "values")
    ):
        typed.setdefault(number, []).append(json.loads(values))
    posted = Counter(
        Posted.objects.standing().filter(record__number__in=written).values_list("record__number", flat=True)
    )
    for number, (kind, sheet) in written.items():
        if number not in typed:
            wrong.append(f"{number} was acknowledged and is not there")
            continue
        if typed[number][0] != sheet:
            wrong.append(f"{number} says {typed[number][0]}, but {sheet} was sent")
        moments = 2 if kind == "spirit_run" else 1
        if posted[number] != moments:
            wrong.append(f"{number} stands in the books {posted[number]} times, not {moments}")
    expected: dict[str, list[str]] = {}
    for number, celsius in done["corrected"]:
        expected.setdefault(number, []).append(celsius)
    for number, versions in typed.items():
        corrections = [values["to_after_celsius"] for values in versions[1:]]
        if corrections != expected.get(number, []):
            wrong.append(f"{number} was corrected to {expected.get(number)}, and says {corrections}")
    return wrong


def _readings(done: dict[str, Any]) -> list[str]:
    from batches.models import Reading

    sent = Counter((number, percent) for number, percent in done["readings"])
    there = Counter(Reading.objects.filter(record__number__in=done["written"]).values_list("record__number", "value"))
    return [] if sent == there else [f"readings: {sent - there} are missing, {there - sent} nobody was told of"]


def _comparisons() -> list[str]:
    from ledger.comparing.month import compare_month
    from ledger.kept.keeping import current
    from ledger.kept.models import Uncompared
    from ledger.models import Movement

    left = Uncompared.objects.count()
    wrong = [f"{left} writings are left uncompared"] if left else []
    period = Movement.objects.order_by("-happened_at").values_list("period", flat=True)[0]
    kept, anew = current(period).month.findings, compare_month(period).findings
    if kept != anew:
        apart = [f"{one} is not {other}" for one, other in zip_longest(kept, anew) if one != other]
        wrong.append(f"the findings kept of {period} are not those made from nothing: {apart[0]}")
    return wrong


def _proof() -> list[str]:
    from ledger.proof.proving import prove

    return list(prove().broken)
