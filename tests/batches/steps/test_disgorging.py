"""Casks emptied into a vat, worked by hand on the plain plant: a litre a millimetre, everything read at 20 °C.

What casks hold comes from the published formula behind `gauge_by_weight` (OIML R 22); the band is the site's first, 1
to 3 % a year. All figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.models import Link, Record
from batches.records import recording
from batches.records.asking import Asked
from batches.sheets.typed.read_sheet import Unfit
from distillery.alcoholometry.gauging.gauge import gauge_by_weight
from distillery.people.models import Person
from ledger.comparing.findings.finding import ENQUIRY
from ledger.comparing.month import findings
from ledger.comparing.unaccounted import left_by_records
from ledger.enquiries.answering import Proposal, agree, propose
from ledger.enquiries.models import Ending, Enquiry
from ledger.models import Balance, Leg, Movement
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]

FILLED = {"filled_at": "2026-03-06T02:00", "tare_kg": "50", "gross_kg": "230", "percent": "63.5"}
AT = "2027-03-06T08:00"


def weighed(gross: str, percent: str, tare: str = "50") -> float:
    return gauge_by_weight(
        gross_kg=float(gross), tare_kg=float(tare), celsius=20.0, hydrometer_percent=float(percent)
    ).lpa


def line(cask: str, gross: str, percent: str = "63.0") -> dict[str, str]:
    return {"cask": cask, "tare_kg": "50", "gross_kg": gross, "celsius": "20", "hydrometer_percent": percent}


def legs(number: str) -> dict[str, float]:
    found: dict[str, int] = {}
    for code, pure_ul in Leg.objects.filter(movement__record_number=number).values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: pure_ul / 1e6 for code, pure_ul in found.items() if pure_ul}


@pytest.fixture
def two_casks(write: Write) -> None:
    for code in ("C1", "C2"):
        write("opening_cask", number=code, **FILLED)


def disgorge(write: Write, rows: list[dict[str, str]], after: str, **more: str) -> Record:
    return write(
        "disgorging",
        "DG0001",
        rows,
        at=AT,
        vat="BV",
        **gauge("vat_before", "0"),
        **more,
        **gauge("vat_after", after, "63.0"),
    )


@pytest.mark.usefixtures("two_casks")
class TestTwoCasks:
    def test_the_vat_has_what_they_held(self, write: Write) -> None:
        disgorge(write, [line("C1", "227.5"), line("C2", "227")], "390")
        filled, first, second = weighed("230", "63.5"), weighed("227.5", "63.0"), weighed("227", "63.0")
        vat = 390 * 0.63
        assert legs("DG0001") == pytest.approx(
            {
                "vessel:C1": -filled,
                "vessel:C2": -filled,
                "vessel:BV": vat,
                "loss:evaporation in cask": 2 * filled - first - second,
                "difference:disgorging": first + second - vat,
            },
            abs=2e-6,
        )
        assert set(Balance.objects.filter(account__code__in=("vessel:C1", "vessel:C2")).values_list("balance_ul")) == {
            (0,)
        }

    def test_it_is_judged_against_what_they_should_hold(self, write: Write) -> None:
        disgorge(write, [line("C1", "227.5"), line("C2", "227")], "390")
        movement = Movement.objects.get(record_number="DG0001")
        assert movement.judged_ul == pytest.approx(2 * weighed("230", "63.5") * 0.98e6, abs=2)
        left = left_by_records(["DG0001"])["DG0001"]
        assert left.difference_ul == pytest.approx(legs("DG0001")["difference:disgorging"] * 1e6, abs=2)
        assert left.charge_ul == movement.judged_ul
        # Two % of that, the site's first threshold.
        assert left.threshold_ul == left.charge_ul * 20_000 // 1_000_000
        assert left.uncertainty_ul > 0

    def test_what_the_wood_keeps_is_a_loss_of_its_own(self, write: Write) -> None:
        disgorge(write, [line("C1", "227.5"), line("C2", "227")], "388", wood_litres="2", wood_percent="60")
        found = legs("DG0001")
        held = weighed("227.5", "63.0") + weighed("227", "63.0")
        assert found["loss:wood absorption"] == pytest.approx(1.2)
        assert found["difference:disgorging"] == pytest.approx(held - 1.2 - 388 * 0.63, abs=2e-6)
        assert left_by_records(["DG0001"])["DG0001"].difference_ul == pytest.approx(
            found["difference:disgorging"] * 1e6, abs=2
        )

    def test_the_vat_is_made_of_their_fills(self, write: Write) -> None:
        record = disgorge(write, [line("C1", "227.5"), line("C2", "227")], "390")
        givers = set(Link.objects.filter(taker=record).values_list("giver__kind", flat=True))
        assert givers == {"opening_cask"}

    def test_more_than_it_held_is_a_difference_and_asked_about(self, write: Write, staff: Person) -> None:
        with pytest.raises(Asked, match="Is it this cask"):
            recording.save(
                "disgorging",
                "DG0001",
                {"at": AT, "vat": "BV", **gauge("vat_before", "0"), **gauge("vat_after", "200", "63.5")},
                [line("C1", "235", "63.5")],
                person=staff,
            )
        disgorge(write, [line("C1", "235", "63.5")], "203")
        found = legs("DG0001")
        assert "loss:evaporation in cask" not in found
        assert found["difference:disgorging"] == pytest.approx(weighed("230", "63.5") - 203 * 0.63, abs=2e-6)

    def test_a_cask_below_its_band_leaves_a_difference(self, write: Write) -> None:
        disgorge(write, [line("C1", "215")], "183")
        filled = weighed("230", "63.5")
        assert legs("DG0001")["loss:evaporation in cask"] == pytest.approx(0.03 * filled, abs=2e-6)
        assert legs("DG0001")["difference:disgorging"] == pytest.approx(0.97 * filled - 183 * 0.63, abs=2e-6)

    def test_a_cask_below_its_band_is_a_finding_that_names_it(self, write: Write) -> None:
        """C1 held some ten litres of pure alcohol less than the least expected of it; all of what both held is in the
        vat, so that the balance of vat and weights is right."""
        first, second = weighed("212", "63.0"), weighed("227", "63.0")
        beyond = 0.97 * weighed("230", "63.5") - first
        assert beyond == pytest.approx(10, abs=1)
        disgorge(write, [line("C1", "212"), line("C2", "227")], f"{(first + second) / 0.63:.0f}")
        [found] = [one for one in findings("2027-03") if one.record == "DG0001"]
        assert found.kind == ENQUIRY
        assert found.likely[0].vessel == "C1"
        assert found.likely[0].cause == f"cask C1 held {beyond:.2f} LPA less than the least expected of it"
        assert found.difference_ul == pytest.approx(beyond * 1e6, abs=0.4e6)
        assert Enquiry.objects.filter(key=found.key).exists()

    def test_what_is_explained_of_it_ends_it_and_moves_no_balance(
        self, write: Write, staff: Person, manager: Person
    ) -> None:
        held = weighed("212", "63.0") + weighed("227", "63.0")
        disgorge(write, [line("C1", "212"), line("C2", "227")], f"{held / 0.63:.0f}")
        enquiry = Enquiry.objects.get(key="operation:DG0001")
        ending = Proposal(
            Ending.LOSS,
            checked="The floor below C1.",
            reason="Its head had shrunk.",
            cause="spillage",
            happened_at=Movement.objects.get(record_number="DG0001").happened_at,
            product="whisky",
            pure_ul=left_by_records(["DG0001"])["DG0001"].difference_ul,
            percent=63.0,
        )
        propose(enquiry, ending, person=staff)
        agree(enquiry, second=manager)
        assert not [one for one in findings("2027-03") if one.record == "DG0001"]

    def test_casks_within_their_band_are_none(self, write: Write) -> None:
        first, second = weighed("227.5", "63.0"), weighed("227", "63.0")
        disgorge(write, [line("C1", "227.5"), line("C2", "227")], f"{(first + second) / 0.63:.0f}")
        assert not [one for one in findings("2027-03") if one.record == "DG0001"]

    def test_a_cask_stands_once(self, write: Write) -> None:
        with pytest.raises(Unfit, match="C1"):
            disgorge(write, [line("C1", "227.5"), line("C1", "227")], "390")

    def test_an_empty_cask_can_be_filled_again_and_ages_anew(self, write: Write, opened: Callable[..., Record]) -> None:
        disgorge(write, [line("C1", "220"), line("C2", "227")], "380")
        with pytest.raises(Unfit, match="is empty in the books"):
            write("regauge", "RG0001", at="2027-03-07T08:00", **line("C1", "222"))
        opened("VA", "1000", "63.5")
        fill = [line("C1", "230", "63.5") | {"fill_number": "2", "warehouse": "1"}]
        write(
            "cask_fill",
            "CF0001",
            fill,
            at="2027-03-08T08:00",
            vat="VA",
            **gauge("vat_before", "1000", "63.5"),
            **gauge("vat_after", "799", "63.5"),
        )
        write("regauge", "RG0002", at="2028-03-07T14:00", **line("C1", "228", "63.3"))
        filled, left = weighed("230", "63.5"), weighed("228", "63.3")
        assert legs("RG0002") == pytest.approx(
            {"vessel:C1": left - filled, "loss:evaporation in cask": filled - left}, abs=2e-6
        )
        found = left_by_records(["RG0002"])["RG0002"]
        assert found.difference_ul == 0
        assert found.charge_ul == pytest.approx(filled * 0.98e6, rel=1e-4)


def test_a_cask_that_holds_nothing_is_left_out(write: Write) -> None:
    with pytest.raises(Unfit, match="leave it out, or write its fill first"):
        disgorge(write, [line("C1", "227")], "195")
