"""What stands: neither taken back nor taking another back, of movements and of every row that hangs on one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from ledger.models import Gauge, Leg, Movement, MovementKind
from ledger.posting.post import correct, post
from tests.people import somebody

from . import plant

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.django_db
def test_after_a_correction_only_what_replaced_it_stands() -> None:
    person = somebody("ishbel")
    vessel = plant.vessel("VAT")
    wrong = post(plant.opening(vessel, 100.0), person=person)
    [right] = correct([wrong], [plant.opening(vessel, 90.0)], person=person, reason="misread")
    opposite = Movement.objects.get(corrects=wrong)
    assert opposite.kind == MovementKind.CORRECTION
    assert list(Movement.objects.standing()) == [right]
    assert list(Movement.objects.operations()) == [right]
    assert set(Leg.objects.standing().values_list("movement", flat=True)) == {right.pk}
    assert set(Gauge.objects.standing().values_list("movement", flat=True)) == {right.pk}
    # All three are kept.
    assert Movement.objects.count() == 3


def test_it_is_asked_in_one_way_only() -> None:
    by_hand = re.compile(r"corrections__isnull=True|corrects__isnull=True")
    found = [
        f"{file.relative_to(ROOT)}: {line.strip()}"
        for floor in ("ledger", "batches")
        for file in sorted((ROOT / floor).rglob("*.py"))
        if "migrations" not in file.parts
        for line in file.read_text(encoding="utf-8").splitlines()
        if by_hand.search(line)
    ]
    assert found == []
