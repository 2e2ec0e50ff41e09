"""A mash that names a silo and no lot: its lots are drawn on first in first out, by mass. Figures worked by hand.

5,200 kg of a silo with 3,000 kg at 408 and then 10,000 kg at 412 LPA a tonne are 3,000 and 2,200 kg, together
(3,000 × 408 + 2,200 × 412) / 5,200 = 409.69 LPA a tonne.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.audit.proving import prove_records
from batches.audit.proving_standing import prove_standing
from batches.audit.proving_stores import prove_stores
from batches.models import Link, Record, Version
from batches.records import recording
from batches.records.asking import Asked
from batches.sheets.materials.drawn import by_mass, issued_to
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from batches.stores.book import book_of
from batches.stores.kinds import Act, MaterialKind, StockLine
from batches.stores.models import Lot, StockEntry
from batches.stores.writing import Short, keep_stock
from batches.tracing.trace import trace_back, trace_forward
from distillery.people.models import Person
from ledger.posting.turns import turn

Write = Callable[..., Record]


def delivery(write: Write, number: str, day: int, kilograms: str, predicted: str, silo: str = "S1") -> Record:
    return write(
        "intake",
        number,
        received_at=f"2027-03-{day:02}T06:00",
        kilograms=kilograms,
        silo=silo,
        predicted_spirit_yield_lpa_per_tonne=predicted,
    )


def mash(write: Write, number: str, day: int, kilograms: str, **more: str) -> Record:
    values = {"silo": "S1", **more}
    return write("mash", number, started_at=f"2027-03-{day:02}T08:00", grist_kg=kilograms, **values)


def drawn(record: Record) -> dict[str, int]:
    """Kilograms that stand as drawn of each lot."""
    entries = StockEntry.objects.standing().filter(version__record=record, act=Act.ISSUED).order_by("pk")
    return {entry.lot.code: entry.said // 1000 for entry in entries}


def helds() -> dict[str, int]:
    return {lot.code: lot.held // 1000 for lot in Lot.objects.filter(kind=MaterialKind.MALT)}


def proved() -> bool:
    assert [*prove_stores(), *prove_standing(), *prove_records()] == []
    return True


@pytest.fixture
def two_in_a_silo(write: Write) -> None:
    delivery(write, "M001", 1, "3000", "408")
    delivery(write, "M002", 2, "10000", "412")
    delivery(write, "M003", 2, "9000", "400", silo="S2")


def test_lots_are_drawn_first_in_first_out(two_in_a_silo: None, write: Write) -> None:
    first = mash(write, "MA0001", 3, "1000", silo="s1")
    second = mash(write, "MA0002", 4, "5200")
    assert drawn(first) == {"M001": 1000}
    assert drawn(second) == {"M001": 2000, "M002": 3200}
    assert helds() == {"M001": 0, "M002": 6800, "M003": 9000}
    assert proved()


def test_a_mash_knows_its_lots_by_weight(two_in_a_silo: None, write: Write) -> None:
    record = mash(write, "MA0001", 3, "5200")
    site = Site()
    told = by_mass(
        issued_to(site, record, "malt_lot"),
        lambda lot: float(site.told(lot, "predicted_spirit_yield_lpa_per_tonne")),
    )
    assert told == pytest.approx(409.692, abs=0.001)
    assert {link.giver.number: link.mass_g for link in Link.objects.filter(taker=record)} == {
        "M001": 3_000_000,
        "M002": 2_200_000,
    }
    assert {one.record: one.share for one in trace_back("MA0001") if one.kind == "malt lot"} == pytest.approx(
        {"M001": 3000 / 5200, "M002": 2200 / 5200}
    )
    assert {one.record for one in trace_forward("M002") if one.kind == "mash"} == {"MA0001"}


def test_alcohol_is_parted_by_what_was_drawn(two_in_a_silo: None, write: Write, staff: Person) -> None:
    record = mash(write, "MA0001", 3, "5200", washback="WB")
    write(
        "fermentation",
        "FE0001",
        mash="MA0001",
        washback="WB",
        yeast_lot="Y9",
        pitched_at="2027-03-03T13:00",
        original_gravity="1.0600",
        ended_at="2027-03-06T11:00",
        final_gravity="0.9980",
        final_dip_mm="1000",
        final_celsius="20",
    )
    whole = Link.objects.get(giver=record).pure_ul
    parts = {link.giver.number: link.pure_ul for link in Link.objects.filter(taker=record)}
    assert whole > 0
    assert sum(parts.values()) == whole
    assert parts["M001"] == pytest.approx(whole * 3000 / 5200, abs=1)
    assert proved()
    recording.correct(record, {"grist_kg": "4000"}, person=staff, reason="weighed again", sure=True)
    parts = {link.giver.number: link.pure_ul for link in Link.objects.filter(taker=record)}
    assert parts["M001"] == pytest.approx(whole * 3 / 4, abs=1)
    assert proved()


def test_a_record_written_late_moves_no_other_draw(two_in_a_silo: None, write: Write, staff: Person) -> None:
    later = mash(write, "MA0002", 5, "2500")
    early = mash(write, "MA0001", 3, "1000")
    # On the third M001 held 3,000 kg, of which 2,500 were to go to MA0002.
    assert drawn(later) == {"M001": 2500}
    assert drawn(early) == {"M001": 500, "M002": 500}
    recording.correct(later, {"grist_kg": "1500"}, person=staff, reason="weighed again", sure=True)
    assert drawn(later) == {"M001": 1500}
    assert drawn(early) == {"M001": 500, "M002": 500}
    assert helds() == {"M001": 1000, "M002": 9500, "M003": 9000}
    assert proved()


def test_a_correction_that_says_nothing_of_the_silo_leaves_its_draw(
    two_in_a_silo: None, write: Write, staff: Person
) -> None:
    record = mash(write, "MA0001", 3, "5200")
    recording.correct(record, {"husk_percent": "20"}, person=staff, reason="forgotten", sure=True)
    assert StockEntry.objects.filter(version__record=record).count() == 2
    recording.correct(record, {"silo": "", "malt_lot": "M003"}, person=staff, reason="other silo", sure=True)
    assert drawn(record) == {"M003": 5200}
    assert [link.giver.number for link in Link.objects.filter(taker=record)] == ["M003"]
    recording.void(record, person=staff, reason="never mashed")
    assert helds() == {"M001": 3000, "M002": 10000, "M003": 9000}
    assert proved()


def test_a_count_is_not_drawn_through(two_in_a_silo: None, write: Write, manager: Person) -> None:
    line = {"material": "malt", "lot": "M001", "kilograms": "100", "reason": "spilt"}
    counted = write("material_count", None, [line], counted_at="2027-03-05T06:00")
    recording.countersign(counted, manager)
    assert drawn(mash(write, "MA0002", 6, "300")) == {"M001": 100, "M002": 200}
    assert drawn(mash(write, "MA0001", 3, "2950")) == {"M001": 2950}
    assert helds()["M001"] == 0
    assert proved()


def test_more_than_the_silo_holds_is_asked_about_and_stands_on_the_last_lot(
    two_in_a_silo: None, write: Write, staff: Person
) -> None:
    values = {"started_at": "2027-03-03T08:00", "silo": "S1", "grist_kg": "13200"}
    with pytest.raises(Asked) as asked:
        recording.save("mash", "MA0001", values, person=staff)
    assert "the lots in silo S1 have 13,000.0 kg that nothing else has drawn" in str(asked.value)
    assert drawn(write("mash", "MA0001", **values)) == {"M001": 3000, "M002": 10200}
    assert helds()["M002"] == -200
    delivery(write, "M004", 6, "5000", "410")
    with pytest.raises(Asked) as asked:
        recording.save("mash", "MA0002", {**values, "started_at": "2027-03-07T08:00", "grist_kg": "900"}, person=staff)
    assert "holds less than nothing by its book: M002" in str(asked.value)
    assert proved()


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"silo": ""}, "Malt lot is blank; write it, or the silo that was drawn from."),
        ({"malt_lot": "M001"}, "Malt lot and Silo are both written"),
        ({"silo": "S9"}, "Nothing was put into silo S9 by"),
    ],
)
def test_a_lot_or_a_silo_and_not_both(two_in_a_silo: None, write: Write, values: dict[str, str], sentence: str) -> None:
    with pytest.raises(Unfit) as unfit:
        mash(write, "MA0001", 3, "500", **values)
    assert sentence in str(unfit.value)
    assert not Record.objects.filter(number="MA0001").exists()


def test_a_draw_changed_past_the_program_is_named(two_in_a_silo: None, write: Write) -> None:
    record = mash(write, "MA0001", 3, "5200")
    Link.objects.filter(taker=record, giver__number="M002").update(mass_g=1)
    assert any("MA0001" in one for one in prove_records())
    entry = StockEntry.objects.get(version__record=record, lot__code="M002")
    StockEntry.objects.create(
        lot=entry.lot,
        version=entry.version,
        act=entry.act,
        happened_at=entry.happened_at,
        amount=-1000,
        said=1000,
        field=entry.field,
        silo=entry.silo,
    )
    assert any("MA0001: what the stores keep of it" in one for one in prove_stores())


START = datetime(2027, 3, 1, 6, tzinfo=UTC)
NUMBERS = count(1)
# What happens, of which of two lots, after how many hours, how much; a draw names the silo and no lot.
DONE = st.tuples(st.sampled_from(["in", "in", "draw", "draw", "count"]), st.integers(0, 1), st.integers(0, 30))
ACTS = st.lists(st.tuples(st.integers(0, 5), DONE, st.integers(0, 200)), max_size=14)


def _said(done: tuple[str, int, int], amount: int, silo: str) -> StockLine:
    what, lot, hours = done
    at = START + timedelta(hours=hours)
    if what == "draw":
        return StockLine(Act.ISSUED, MaterialKind.BOTANICAL, "", amount + 1, at, "kilograms", None, "lot", "", silo)
    act = Act.RECEIVED if what == "in" else Act.COUNTED
    return StockLine(act, MaterialKind.BOTANICAL, f"{silo}-{lot}", amount + 1, at, "kilograms", None, "lot", "", silo)


@pytest.mark.django_db
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_what_is_drawn_adds_up_and_no_lot_goes_below_nothing(staff: Person, acts: list[Any]) -> None:
    """Random deliveries, draws and counts of one silo, written in any order and corrected at random: each draw is the
    sum of what its lots gave, what stands is what was said, and a lot is never drawn below nothing."""
    silo = f"H{next(NUMBERS)}"
    records: dict[int, Record] = {}
    kept: dict[int, StockLine] = {}
    for place, done, amount in acts:
        line = _said(done, amount, silo)
        record = records.get(place)
        try:
            with turn(staff):
                if record is None:
                    record = Record(kind="transfer", number=f"H{next(NUMBERS)}", opened_by=staff)
                    record.opened_at = record.happened_from = START
                    record.save()
                version = Version.objects.create(
                    record=record,
                    serial=record.versions.count() + 1,
                    values="{}",
                    digest="",
                    written_at=START,
                    person=staff,
                )
                keep_stock(record, version, [line])
        except Short:
            continue
        records[place], kept[place] = record, line
    for place, line in kept.items():
        entries = StockEntry.objects.standing().filter(version__record=records[place])
        assert sum(entry.said for entry in entries) == line.amount
        assert {entry.act for entry in entries} == {line.act}
        assert len({entry.lot_id for entry in entries}) == entries.count()
    for lot in Lot.objects.filter(code__startswith=f"{silo}-"):
        here = [one.held for one in book_of(lot)]
        assert sum(lot.entries.values_list("amount", flat=True)) == lot.held == (here[-1:] or [0])[0]
        if lot.is_here:
            assert min(here, default=0) >= 0
    assert not [one for one in prove_stores() if "come to" in one or "opposite" in one]
