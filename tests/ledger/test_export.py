"""What is exported can be added up and checked by anybody with Python and nothing of this program."""

from __future__ import annotations

import csv
import hashlib
import json
import random
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from ledger.models import Account, Balance, Duty, Gauge, Leg, Movement
from ledger.posting.post import post
from ledger.proof.export_readme import COLUMNS
from ledger.proof.exporting import VERIFIER
from tests.people import somebody

from . import plant
from .test_tampering import small_ledger

pytestmark = pytest.mark.django_db

FILES = {
    "README.txt",
    "movements.jsonl",
    "closings.jsonl",
    "versions.jsonl",
    "seals.jsonl",
    "trail.jsonl",
    "verify_export.py",
    *(f"{name}.csv" for name in COLUMNS),
}


def verified(folder: Path, *more: str) -> subprocess.CompletedProcess[str]:
    """Runs the verifier as an outsider would: alone, isolated from this program's folder and packages."""
    return subprocess.run(
        [sys.executable, "-I", "-S", str(folder / "verify_export.py"), str(folder), *more],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.fixture
def exported(tmp_path: Path) -> Path:
    small_ledger()
    folder = tmp_path / "export"
    call_command("export_ledger", str(folder), verbosity=0)
    return folder


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_it_writes_every_row_there_is(exported: Path) -> None:
    assert {path.name for path in exported.iterdir()} == FILES
    counts = {"movements": Movement, "legs": Leg, "gauges": Gauge, "duties": Duty, "accounts": Account}
    for name, model in counts.items():
        assert len(rows(exported, name)) == model.objects.count() > 0
    kept = dict(Balance.objects.values_list("account__code", "balance_ul"))
    assert {row["code"]: int(row["pure_ul"]) for row in rows(exported, "balances")} == kept


def test_the_readme_names_every_column(exported: Path) -> None:
    text = (exported / "README.txt").read_text(encoding="utf-8")
    for name, columns in COLUMNS.items():
        assert f"{name}.csv" in text
        with (exported / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            assert next(csv.reader(file)) == [column for column, _ in columns]
    assert "verify_export.py FOLDER" in text


def test_the_first_seal_can_be_worked_out_by_what_the_readme_says(exported: Path) -> None:
    first = json.loads((exported / "movements.jsonl").read_text(encoding="utf-8").splitlines()[0])
    line = json.dumps(first["content"], sort_keys=True, separators=(",", ":"))
    assert hashlib.sha256(("0" * 64 + "\n" + line).encode()).hexdigest() == Movement.objects.get(pk=1).seal


def test_an_outsider_finds_that_it_holds(exported: Path) -> None:
    done = verified(exported)
    assert done.returncode == 0, done.stdout + done.stderr
    last = Movement.objects.order_by("pk").last()
    assert last is not None
    assert f"{last.pk} movements, every seal holds" in done.stdout
    assert last.seal in done.stdout


def test_a_printed_seal_is_found_and_a_made_up_one_is_not(exported: Path) -> None:
    seal = Movement.objects.get(pk=2).seal
    assert "is the seal of movement 2" in verified(exported, seal[:16].upper()).stdout
    assert verified(exported, "not-a-seal").returncode == 1


def changed_lines(exported: Path, change) -> None:
    path = exported / "movements.jsonl"
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    lines = change(lines) or lines
    path.write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")


def test_a_movement_taken_out_is_named(exported: Path) -> None:
    changed_lines(exported, lambda lines: lines[:3] + lines[4:])
    done = verified(exported)
    assert done.returncode == 1
    assert "number 4 is missing" in done.stdout


def test_a_movement_sealed_anew_does_not_lead_on_to_the_next(exported: Path) -> None:
    def change(lines: list[dict]) -> None:
        lines[1]["content"]["reason"] = "another"
        line = json.dumps(lines[1]["content"], sort_keys=True, separators=(",", ":"))
        lines[1]["seal"] = hashlib.sha256(f"{lines[0]['seal']}\n{line}".encode()).hexdigest()

    changed_lines(exported, change)
    assert verified(exported).returncode == 1


def test_any_changed_figure_of_a_table_is_found(exported: Path) -> None:
    """Sixty fields chosen by a fixed seed from all tables that the seals or the sums cover."""
    dice = random.Random(20270331)
    for _ in range(60):
        name = dice.choice(["movements", "legs", "gauges", "duties", "balances"])
        path = exported / f"{name}.csv"
        before = path.read_bytes()
        with path.open(encoding="utf-8", newline="") as file:
            table = list(csv.reader(file))
        row, column = dice.randrange(1, len(table)), dice.randrange(len(table[0]))
        table[row][column] += "1"
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
        done = verified(exported)
        assert done.returncode == 1, (name, row, table[0][column], done.stdout)
        path.write_bytes(before)
    assert verified(exported).returncode == 0


def test_what_is_no_export_is_said_to_be_none(exported: Path) -> None:
    (exported / "movements.jsonl").write_text("{}\n", encoding="utf-8")
    done = verified(exported)
    assert (done.returncode, "cannot be read" in done.stdout) == (2, True)


def test_an_export_is_not_mixed_with_another(exported: Path) -> None:
    with pytest.raises(CommandError, match="not empty"):
        call_command("export_ledger", str(exported))


def test_an_empty_ledger_exports_and_holds(tmp_path: Path) -> None:
    call_command("export_ledger", str(tmp_path / "export"), verbosity=0)
    assert verified(tmp_path / "export").stdout.startswith("0 movements")


def test_letters_beyond_ascii_come_through(tmp_path: Path) -> None:
    person = somebody("siân")
    post(plant.opening(plant.vessel("CÔTE"), 12.5), person=person)
    call_command("export_ledger", str(tmp_path / "export"), verbosity=0)
    assert verified(tmp_path / "export").returncode == 0
    assert {row["person"] for row in rows(tmp_path / "export", "movements")} == {"siân"}


def test_the_verifier_stands_on_the_standard_library_alone() -> None:
    imported = {
        line.split()[1].split(".")[0]
        for line in VERIFIER.read_text(encoding="utf-8").splitlines()
        if line.startswith(("import ", "from "))
    }
    assert imported <= set(sys.stdlib_module_names)
