"""Closings in the export: what an outsider finds with the verifier alone. Invented figures, worked by hand."""

from __future__ import annotations

import csv
import hashlib
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from distillery.people.models import Person
from ledger.models import Movement
from ledger.periods.models import Closing
from ledger.periods.service import agree, ask
from ledger.posting.post import correct, post

from . import plant

pytestmark = pytest.mark.django_db

LATER = datetime(2027, 6, 1, tzinfo=UTC)


@pytest.fixture
def exported(tmp_path: Path, manager: Person, staff: Person) -> Path:
    """100 opened, 40 drawn in March, closed; put right to 38 after, which April carries; April closed too."""
    vat = plant.vessel("VAT")

    def draw(lpa: float) -> Any:
        return plant.draft(
            "samples", "S1", 0, plant.Moved(plant.vessel_account(vat), plant.loss("samples"), plant.quantity(lpa))
        )

    post(plant.opening(vat, 100.0), person=manager)
    drawn = post(draw(40), person=manager)
    for period in ("2027-03", "2027-04"):
        agree(ask(period, person=manager, remark="all is in", now=LATER), person=staff, now=LATER)
        if period == "2027-03":
            correct([drawn], [draw(38)], person=staff, reason="misread")
    folder = tmp_path / "export"
    call_command("export_ledger", str(folder), verbosity=0)
    return folder


def verified(folder: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-I", "-S", str(folder / "verify_export.py"), str(folder)],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == (1 if "BROKEN" in done.stdout else 0), done.stdout + done.stderr
    return done.stdout


def closings(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "closings.jsonl").read_text(encoding="utf-8").splitlines()]


def write(folder: Path, lines: list[dict[str, Any]], name: str = "closings.jsonl") -> None:
    (folder / name).write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")


def digest(previous: str, content: dict[str, Any]) -> str:
    line = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(f"{previous}\n{line}".encode()).hexdigest()


def test_the_digest_can_be_worked_out_by_what_the_readme_says(exported: Path) -> None:
    previous = "0" * 64
    for closing in closings(exported):
        assert closing["previous_digest"] == previous
        previous = digest(previous, closing["content"])
        assert closing["digest"] == previous == Closing.objects.get(number=closing["content"]["number"]).digest
    assert "closings.jsonl is one JSON object" in (exported / "README.txt").read_text(encoding="utf-8")


def test_the_frozen_balances_are_there_as_a_table(exported: Path) -> None:
    with (exported / "closing_balances.csv").open(encoding="utf-8", newline="") as file:
        rows = [(row["number"], row["code"], int(row["pure_ul"]) / 1e6) for row in csv.DictReader(file)]
    assert rows == [
        ("1", "loss:samples", 40),
        ("1", "source:opening stock", -100),
        ("1", "vessel:VAT", 60),
        ("2", "loss:samples", 38),
        ("2", "source:opening stock", -100),
        ("2", "vessel:VAT", 62),
    ]


def test_an_outsider_finds_that_it_holds(exported: Path) -> None:
    assert "every seal holds" in verified(exported)
    assert Movement.objects.filter(true_at__isnull=False).count() == 2


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("remark", "nothing", "its content does not give its digest"),
        ("agreed_by", "test-manager", "its content does not give its digest"),
        ("ends", "2027-04-02T00:00:00.000000Z", "was closed"),
        ("last_number", 1, "closed"),
    ],
)
def test_a_changed_closing_is_found(exported: Path, key: str, value: Any, says: str) -> None:
    lines = closings(exported)
    lines[0]["content"][key] = value
    write(exported, lines)
    said = verified(exported)
    assert "BROKEN" in said
    assert says in said


def test_balances_that_the_legs_do_not_give_are_found_though_the_digests_were_made_anew(exported: Path) -> None:
    lines = closings(exported)
    lines[0]["content"]["balances"][2][1] += 1
    previous = "0" * 64
    for line in lines:
        line["previous_digest"] = previous
        previous = line["digest"] = digest(previous, line["content"])
    write(exported, lines)
    assert "closing 1 of 2027-03: its balances are not what the legs add up to" in verified(exported)


def test_a_movement_written_into_a_closed_period_is_found_though_every_seal_was_made_anew(exported: Path) -> None:
    lines = [json.loads(line) for line in (exported / "movements.jsonl").read_text(encoding="utf-8").splitlines()]
    lines[-1]["content"]["period"] = "2027-03"
    previous = lines[-1]["previous_seal"]
    lines[-1]["seal"] = digest(previous, lines[-1]["content"])
    write(exported, lines, "movements.jsonl")
    assert "BROKEN" in verified(exported)
    # The table of movements says otherwise too, so let it say the same.
    table = (exported / "movements.csv").read_text(encoding="utf-8").splitlines()
    content = lines[-1]["content"]
    last = table[-1].replace("2027-04", "2027-03").rsplit(",", 1)[0] + f",{lines[-1]['seal']}"
    (exported / "movements.csv").write_text("\n".join([*table[:-1], last]) + "\n", encoding="utf-8")
    assert f"movement {content['number']}" in verified(exported)
    assert "was closed" in verified(exported)
