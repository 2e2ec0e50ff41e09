"""Shares of pure alcohol through mixed vessels, worked by hand on the plain plant; invented figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.models import Contents, Link, Record
from batches.records import recording
from batches.stores.book import book_of, lot_meant
from batches.stores.kinds import MaterialKind
from batches.tracing.links import contents_of, written_since
from batches.tracing.materials import declared_legs
from batches.tracing.mix import Mix, apportion
from batches.tracing.trace import NoSuchReference, Traced, trace_back, trace_forward
from distillery.people.models import Person
from ledger.enquiries.following import deferred
from ledger.models import Account

from .shares import shares_by_kind
from .tiny_plant import gauge

Write = Callable[..., Record]


@given(st.integers(min_value=0, max_value=10**13), st.dictionaries(st.integers(), st.integers(1, 10**13), min_size=1))
def test_parts_add_up_and_keep_their_proportion(total: int, weights: dict[int, int]) -> None:
    parts = apportion(total, weights)
    assert sum(parts.values()) == total
    whole = sum(weights.values())
    for key, weight in weights.items():
        assert abs(parts.get(key, 0) - total * weight / whole) <= 1 + total * 1e-15


@given(st.lists(st.tuples(st.sampled_from(["give", "take", "gauge"]), st.integers(0, 10**12)), max_size=30))
def test_a_mix_always_adds_up_to_its_book(acts: list[tuple[str, int]]) -> None:
    mix = Mix()
    for record, (act, pure_ul) in enumerate(acts, start=1):
        if act == "give":
            mix.give(record, pure_ul)
        elif act == "take":
            taken = mix.take(min(pure_ul, mix.book_ul))
            assert sum(taken.values()) == min(pure_ul, sum(taken.values()))
        else:
            mix.scale(pure_ul, found_by=record)
        assert sum(mix.shares.values()) == mix.book_ul >= 0


def moved(giver: str, taker: str, at: str, *gauges: tuple[str, str]) -> dict[str, str]:
    names = ("from_before", "to_before", "from_after", "to_after")
    values: dict[str, str] = {"at": at, "from_vessel": giver, "to_vessel": taker}
    for name, (dip, percent) in zip(names, gauges, strict=True):
        values |= gauge(name, dip, percent)
    return values


@pytest.fixture
def mixed(write: Write, opened: Callable[..., Record]) -> None:
    """600 from the spirit receiver and 200 more join in the vat; a quarter of the mix goes to the bottling vat."""
    with deferred():
        opened("SP", "1000", "60.0")
        opened("VA", "500", "40.0")
        write(
            "transfer",
            "TR0001",
            **moved("SP", "VA", "2027-03-02T06:00", ("1000", "60"), ("500", "40"), ("0", ""), ("1600", "50")),
        )
        write(
            "transfer",
            "TR0002",
            **moved("VA", "BV", "2027-03-03T06:00", ("1600", "50"), ("0", ""), ("1200", "50"), ("400", "50")),
        )


def shares(traced: Sequence[Traced], kind: str) -> dict[str, float]:
    return {one.record: one.share for one in traced if one.kind == kind}


def test_what_leaves_a_vessel_carries_the_mix_in_it(mixed: None) -> None:
    # 600 came from the receiver and 200 were there: the 200 that left are 150 and 50.
    taken = {link.giver.number: link.pure_ul for link in Link.objects.filter(taker__number="TR0002")}
    assert taken["TR0001"] == pytest.approx(150e6, abs=2)
    assert taken["OV0002"] == pytest.approx(50e6, abs=2)
    back = trace_back("TR0002")
    assert shares(back, "opening_stock") == pytest.approx({"OV0001": 0.75, "OV0002": 0.25}, abs=1e-6)
    assert shares(back, "transfer") == {"TR0001": 1.0}
    assert next(one.of_all for one in back if one.record == "TR0001") == pytest.approx(0.75, abs=1e-6)


def test_forward_says_which_vessels_hold_how_much(mixed: None) -> None:
    forward = trace_forward("OV0001")
    held = {one.record: one.pure_ul for one in forward if one.kind == "vessel"}
    assert held == pytest.approx({"VA": 450e6, "BV": 150e6}, abs=1e3)
    assert shares_by_kind(forward) == pytest.approx({"transfer": 1.0, "vessel": 1.0})


def test_a_vessel_is_traced_by_what_it_holds(mixed: None) -> None:
    assert shares(trace_back("BV"), "opening_stock") == pytest.approx({"OV0001": 0.75, "OV0002": 0.25}, abs=1e-6)
    assert shares(trace_back("bv"), "transfer") == pytest.approx({"TR0002": 1 / 1.75, "TR0001": 0.75 / 1.75}, abs=1e-6)
    assert shares(trace_forward("SP"), "transfer") == pytest.approx({"TR0001": 0.8, "TR0002": 0.2}, abs=1e-6)


def test_an_emptied_vessel_is_traced_by_what_it_held_last(mixed: None) -> None:
    assert shares(trace_back("SP"), "opening_stock") == {"OV0001": 1.0}


def test_what_a_gauge_finds_keeps_the_mix(mixed: None, write: Write) -> None:
    # The bottling vat is found to hold 202 and not 200: the shares stay three to one.
    write(
        "transfer",
        "TR0003",
        **moved("BV", "GI", "2027-03-04T06:00", ("404", "50"), ("0", ""), ("0", ""), ("404", "50")),
    )
    assert shares(trace_back("GI"), "opening_stock") == pytest.approx({"OV0001": 0.75, "OV0002": 0.25}, abs=1e-6)


@pytest.mark.sqlite
def test_what_is_new_is_read_without_all_that_was_before(mixed: None) -> None:
    """However long the books are: the database begins with the new movements, not with the accounts they touch."""
    first = written_since(1).explain().splitlines()[0]
    assert "ledger_leg" in first
    assert "movement_id>" in first


@pytest.mark.sqlite
def test_what_a_record_declared_is_read_by_its_own_movements(mixed: None) -> None:
    record = Record.objects.earliest("pk")
    plan = declared_legs(record).explain()
    assert "movement_by_record (record_kind=? AND record_number=?)" in plan
    assert "ledger_leg_account_id" not in plan
    assert sum(leg.pure_ul for leg in declared_legs(record)) > 0


def test_a_late_entry_is_followed_again_and_nothing_else(mixed: None, write: Write) -> None:
    # Written last, happened between the two: 300 from the feints receiver into the vat of 800.
    write("opening_stock", vessel="FE", at="2027-03-01T06:00", **gauge("gauge", "500", "60"))
    before = set(Link.objects.exclude(account__code="vessel:VA").values_list("pk", flat=True))
    write(
        "transfer",
        "TR0009",
        **moved("FE", "VA", "2027-03-02T18:00", ("500", "60"), ("1600", "50"), ("0", ""), ("2000", "55")),
    )
    assert shares(trace_back("TR0002"), "opening_stock") == pytest.approx(
        {"OV0001": 600 / 1100, "OV0003": 300 / 1100, "OV0002": 200 / 1100}, abs=1e-6
    )
    kept = set(Link.objects.exclude(account__code="vessel:VA").values_list("pk", flat=True))
    assert before <= kept


def test_a_correction_is_followed_again(mixed: None, staff: Person) -> None:
    transfer = Record.objects.get(number="TR0001")
    recording.correct(
        transfer,
        {"to_before_dip_mm": "1000", "to_after_dip_mm": "2000"},
        person=staff,
        reason="dips misread",
        sure=True,
    )
    # The vat held 400 before the 600 came.
    assert shares(trace_back("TR0002"), "opening_stock") == pytest.approx({"OV0001": 0.6, "OV0002": 0.4}, abs=1e-6)
    account = Account.objects.get(code="vessel:BV")
    assert sum(contents_of(account.pk).values()) == pytest.approx(200e6, abs=2)


def test_following_again_from_the_last_month_gives_the_same(mixed: None, write: Write, staff: Person) -> None:
    write(
        "transfer",
        "TR0003",
        **moved("VA", "GI", "2027-04-03T06:00", ("1200", "50"), ("0", ""), ("600", "50"), ("600", "50")),
    )
    write(
        "transfer",
        "TR0004",
        **moved("VA", "HT", "2027-05-03T06:00", ("600", "50"), ("0", ""), ("300", "50"), ("300", "50")),
    )
    vat = Account.objects.get(code="vessel:VA")
    assert Contents.objects.filter(account=vat).count() == 3
    links = list(
        Link.objects.filter(account=vat).order_by("happened_at", "giver").values_list("giver", "taker", "pure_ul")
    )
    recording.correct(
        Record.objects.get(number="TR0003"), {"from_before_celsius": "20.1"}, person=staff, reason="misread"
    )
    recording.correct(
        Record.objects.get(number="TR0003"), {"from_before_celsius": "20"}, person=staff, reason="as it was"
    )
    again = list(
        Link.objects.filter(account=vat).order_by("happened_at", "giver").values_list("giver", "taker", "pure_ul")
    )
    assert again == links
    assert Contents.objects.filter(account=vat).count() == 3


def test_water_passes_the_whole_vat_through_its_record(mixed: None, write: Write) -> None:
    write(
        "reduction",
        "RE0001",
        at="2027-03-04T06:00",
        vessel="BV",
        target_percent="40",
        water_kg="98",
        **gauge("before", "400", "50"),
        **gauge("after", "499", "40"),
    )
    assert shares(trace_back("BV"), "reduction") == {"RE0001": 1.0}
    assert shares(trace_back("RE0001"), "opening_stock") == pytest.approx({"OV0001": 0.75, "OV0002": 0.25}, abs=1e-6)


def test_a_voided_record_is_in_no_chain(mixed: None, staff: Person) -> None:
    recording.void(Record.objects.get(number="TR0002"), person=staff, reason="never happened")
    assert not Link.objects.filter(taker__number="TR0002").exists()
    assert {one.record for one in trace_forward("OV0001") if one.kind == "transfer"} == {"TR0001"}


@pytest.fixture
def two_lots(write: Write, opened: Callable[..., Record]) -> None:
    """Two mashes of two lots, fermented in turn in one washback and charged one after the other."""
    with deferred():
        opened("LW", "0", "")
        for place, day in enumerate(("01", "11"), start=1):
            write("intake", f"M00{place}", received_at=f"2027-03-{day}T06:00", kilograms="1000")
            write(
                "mash",
                f"MA000{place}",
                started_at=f"2027-03-{day}T06:00",
                malt_lot=f"M00{place}",
                grist_kg="500",
                washback="WB",
            )
            later = f"{int(day) + 3:02d}"
            write(
                "fermentation",
                f"FE000{place}",
                mash=f"MA000{place}",
                washback="WB",
                yeast_lot="Y9",
                pitched_at=f"2027-03-{day}T11:00",
                original_gravity="1.0600",
                ended_at=f"2027-03-{later}T11:00",
                final_gravity="0.9980",
                final_dip_mm=str(1000 * place),
                final_celsius="20",
            )
            held = 160 * (place - 1) * (place == 2)
            write(
                "wash_run",
                f"WR000{place}",
                still="WS",
                fermentation=f"FE000{place}",
                washback="WB",
                charged_at=f"2027-03-{later}T12:00",
                washback_before_dip_mm=str(1000 * place),
                washback_before_celsius="20",
                washback_after_dip_mm="0",
                receiver="LW",
                **gauge("receiver_before", str(held * 2), "50" if held else ""),
                ended_at=f"2027-03-{later}T18:00",
                **gauge("receiver_after", str(160 * (1, 3)[place - 1] * 2), "50"),
                pot_ale_litres="500",
                pot_ale_percent="0.1",
            )


def test_from_low_wines_back_to_the_malt(two_lots: None) -> None:
    back = trace_back("LW")
    assert shares_by_kind(back) == pytest.approx(
        dict.fromkeys(("wash_run", "fermentation", "mash", "malt lot"), 1.0), abs=1e-9
    )
    # The second run gave twice as much.
    assert shares(back, "malt lot") == pytest.approx({"M002": 2 / 3, "M001": 1 / 3}, abs=1e-6)


def test_from_a_yeast_lot_forward(two_lots: None) -> None:
    forward = trace_forward("Y9")
    assert shares(forward, "wash_run") == pytest.approx({"WR0002": 2 / 3, "WR0001": 1 / 3}, abs=1e-6)
    assert shares(forward, "vessel") == {"LW": 1.0}


def test_a_mash_not_yet_fermented_is_on_its_lot(two_lots: None, write: Write) -> None:
    write("mash", "MA0003", started_at="2027-03-20T06:00", malt_lot="M001", grist_kg="200")
    assert {one.record for one in trace_forward("M001") if one.kind == "mash"} == {"MA0001", "MA0003"}
    assert shares(trace_back("MA0003"), "malt lot") == {"M001": 1.0}


def test_the_book_of_malt(two_lots: None, write: Write, staff: Person) -> None:
    write("mash", "MA0003", started_at="2027-03-20T06:00", malt_lot="M001", grist_kg="200,5")
    lot = lot_meant(MaterialKind.MALT, "m001")
    assert lot is not None
    assert [(line.entry.version.record.number, line.entry.amount) for line in book_of(lot)] == [
        ("M001", 1_000_000),
        ("MA0001", -500_000),
        ("MA0003", -200_500),
    ]
    assert lot.held == 299_500
    recording.correct(Record.objects.get(number="MA0003"), {"malt_lot": "M002"}, person=staff, reason="other lot")
    lot.refresh_from_db()
    assert lot.held == 500_000
    assert {one.record for one in trace_forward("M001") if one.kind == "mash"} == {"MA0001"}


def test_nothing_has_that_number(plain_plant: None) -> None:
    with pytest.raises(NoSuchReference, match="There is no record, lot, vessel or cask XX9 on this site"):
        trace_back("XX9")


def test_a_vessel_that_never_held_anything(plain_plant: None) -> None:
    assert trace_back("GI") == trace_forward("GI") == []
