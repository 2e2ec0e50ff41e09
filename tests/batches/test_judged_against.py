"""Each step says in its posting what its difference is judged against; it is kept and sealed with the movement.

What each is judged against is a decision of the program's design; the figures are worked out here from the gauges as
they were kept.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from batches.sheets.sheet import Posting
from ledger.models import AccountKind, Gauge, Leg, Movement
from ledger.posting.accounts import difference, gauging, loss
from ledger.posting.drafts import Emptied, JudgedAgainst, Moved
from ledger.proof.chain import link_of, seal_holds
from ledger.proof.exporting import COLUMNS, export
from ledger.standalone import verify_export
from tests.ledger import plant

# By operation: the words, and the gauges before and after of what gave (none after: the contents before).
SAID = {
    "wash run": ("the charge", (("washback_before", "washback_after"),)),
    "spirit run": ("the charge", (("low_wines_before", "low_wines_after"), ("feints_before", "feints_after"))),
    "third still run": ("the charge", (("source_before", "source_after"),)),
    "transfer": ("what left the giver", (("from_before", "from_after"),)),
    "reduction": ("contents before", (("before", ""),)),
    "cask fill": ("what left the vat", (("vat_before", "vat_after"),)),
    "bottling": ("what left the vat", (("vat_before", "vat_after"),)),
}


def test_every_operation_of_the_month_keeps_what_its_step_says(loaded_month: Path) -> None:
    seen = set()
    for movement in Movement.objects.operations().filter(operation__in=SAID).exclude(judged_against=""):
        words, pairs = SAID[movement.operation]
        pure = dict(
            Gauge.objects.standing()
            .filter(movement__record_number=movement.record_number)
            .values_list("name", "pure_ul")
        )
        held = sum(pure[before] - (pure[after] if after else 0) for before, after in pairs)
        assert (movement.judged_against, movement.judged_ul) == (words, held), movement.record_number
        seen.add(movement.operation)
    assert seen == set(SAID)


def test_whatever_leaves_a_difference_says_what_that_is_judged_against(loaded_month: Path) -> None:
    apart = Leg.objects.filter(account__kind=AccountKind.DIFFERENCE).exclude(
        account__code__startswith="difference:gaug"
    )
    silent = Movement.objects.operations().filter(pk__in=apart.values("movement"), judged_against="")
    assert apart.exists()
    assert not silent.exists()


def test_a_stock_take_is_judged_against_the_books_its_gauges_met(loaded_month: Path) -> None:
    taken = Movement.objects.operations().filter(operation="stock take")
    assert taken
    for movement in taken:
        books = sum(Gauge.objects.filter(movement=movement).values_list("book_ul", flat=True))
        assert (movement.judged_against, movement.judged_ul) == ("the book", books)


@pytest.mark.django_db
def test_a_posting_that_leaves_a_difference_and_says_nothing_is_refused() -> None:
    vat = plant.vessel("VAT")
    apart = difference("maceration")
    for line in (
        plant.left(vat, 600.0, apart),
        Emptied(plant.vessel_account(vat), apart),
        Moved(plant.vessel_account(vat), apart, plant.quantity(9.0)),
    ):
        with pytest.raises(ValueError, match="difference:maceration says nothing of what it is judged against"):
            Posting((line,))
        assert Posting((line,), judged=JudgedAgainst("contents before", 600_000_000)).judged
    # What a gauge found, and a known loss, are judged by themselves.
    assert Posting((plant.left(vat, 600.0, gauging(vat)), plant.left(vat, 590.0, loss("spillage"))))


def test_it_is_under_the_seal(loaded_month: Path) -> None:
    link = link_of(Movement.objects.exclude(judged_against="").latest("pk"))
    assert seal_holds(link)
    for name, value in (
        ("judged_ul", (link.movement.judged_ul or 0) + 1),
        ("judged_against", "another thing"),
        ("judged_parts", '{"none":1}'),
    ):
        was = getattr(link.movement, name)
        setattr(link.movement, name, value)
        assert not seal_holds(link), name
        setattr(link.movement, name, was)
    assert seal_holds(link)


def test_an_export_has_it_and_its_verifier_holds_it_to_the_seal(loaded_month: Path, tmp_path: Path) -> None:
    export(tmp_path / "out")
    readme = (tmp_path / "out" / "README.txt").read_text(encoding="utf-8")
    assert all(name in readme for name in ("judged_against", "judged_ul", "judged_parts"))
    path = tmp_path / "out" / "movements.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    run = next(row for row in rows if row["operation"] == "spirit run" and row["judged_against"])
    kept = Movement.objects.get(pk=run["number"])
    assert (run["judged_against"], int(run["judged_ul"])) == (kept.judged_against, kept.judged_ul)
    assert json.loads(run["judged_parts"]) == {
        "low_wines_before": 1,
        "low_wines_after": -1,
        "feints_before": 1,
        "feints_after": -1,
    }
    assert [name for name, _ in COLUMNS["movements"]] == list(rows[0])
    verify_export.verify(tmp_path / "out")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(f",{kept.judged_ul},", f",{(kept.judged_ul or 0) + 1},", 1), encoding="utf-8")
    with pytest.raises(verify_export.Broken, match=r"movements\.csv does not say what is sealed"):
        verify_export.verify(tmp_path / "out")
