"""The sample month as it is loaded: loaded once only, its shares sum to one, one wrong dip shows twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from batches.loading.load_folder import load_folder
from batches.models import Record
from batches.records import recording
from batches.tracing.trace import trace_back, trace_forward
from distillery.people.models import Person
from ledger.proof.proving import prove

from .loaded_books import counts, net
from .shares import shares_by_kind

pytestmark = pytest.mark.django_db


class TestTheSampleMonth:
    """The sample month of fixtures/, loaded once for all tests; figures that must come out stand in its truth table."""

    def test_loaded_again_it_adds_nothing(self, loaded_month: Path) -> None:
        before = counts()
        again = load_folder(loaded_month)
        assert counts() == before
        assert again.records == {}

    @pytest.mark.parametrize(
        "ref",
        [
            "M001",
            "MA0005",
            "FE0007",
            "SR0007",
            "TR0005",
            "CF0001",
            "2027/0003",
            "BO0001",
            "L27066",
            "SV",
            "GV",
            "RM0003",
            "Y001",
            "2022/0001",
        ],
    )
    def test_shares_of_each_kind_sum_to_one(self, loaded_month: Path, ref: str) -> None:
        back, forward = trace_back(ref), trace_forward(ref)
        for traced in (back, forward):
            assert all(total == pytest.approx(1.0, abs=1e-9) for total in shares_by_kind(traced).values())
        assert back or forward

    def test_a_bottle_comes_from_malt_and_from_what_was_there_at_the_start(self, loaded_month: Path) -> None:
        back = trace_back("BO0001")
        origins = [one for one in back if one.kind in ("opening_stock", "malt lot")]
        assert sum(one.of_all for one in origins) == pytest.approx(1.0, abs=1e-6)
        assert {one.kind for one in origins} == {"opening_stock", "malt lot"}

    def test_back_and_forward_say_the_same(self, loaded_month: Path) -> None:
        there = {one.record: one.pure_ul for one in trace_forward("M002") if one.kind == "cask_fill"}
        for number, pure_ul in there.items():
            back = {one.record: one.pure_ul for one in trace_back(number) if one.kind == "malt lot"}
            assert back["M002"] == pytest.approx(pure_ul, abs=5)

    def test_one_wrong_dip_shows_twice_and_is_gone_when_put_right(self, loaded_month: Path, staff: Person) -> None:
        # SR0007: dip written 827, was 927 (the truth beside the month says so).
        assert net("SR0007", "difference:spirit run") > 150
        assert net("TR0005", "difference:gauging:SR") < -150
        run = Record.objects.get(number="SR0007")
        recording.correct(run, {"spirit_after_dip_mm": "927"}, person=staff, reason="dip read 100 mm short")
        assert abs(net("SR0007", "difference:spirit run")) < 20
        assert abs(net("TR0005", "difference:gauging:SR")) < 5
        assert prove().broken == []
