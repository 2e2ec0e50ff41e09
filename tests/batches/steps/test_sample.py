"""The sample book, worked by hand on the plain plant. Law: Excise Warehousing (Etc.) Regulations 1988, schedule 2 and
regulation 17(1), as the excise reference has them in section 4.1. People and figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.audit.proving_standing import prove_standing
from batches.models import Record, State
from batches.sheets.typed.read_sheet import Unfit
from batches.steps.shared.books import filling_of
from distillery.plant.models import Vessel
from ledger.comparing.month import findings
from ledger.models import Movement
from ledger.statements.month import month_account
from tests.batches.steps.test_bottling_line import BOTTLING, SAMPLED
from tests.batches.steps.test_disgorging import FILLED, legs, line, weighed
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]

DRAWN = {"drawn_at": "2027-03-06T08:00", "millilitres": "200", "purpose": "analysis", "recipient": "Harrowmere bench"}
ENDED = {"ended_at": "2027-03-08T08:00", "became": "used up in tests"}


def test_a_sample_of_a_vat(write: Write, opened: Callable[..., Record]) -> None:
    """200 mL at 63.5 % are 0.127 LPA."""
    opened("VA", "1000", "63.5")
    record = write("sample", "SA0001", vessel="VA", **DRAWN)
    assert legs("SA0001") == pytest.approx({"vessel:VA": -0.127, "removal:samples": 0.127}, abs=2e-5)
    assert record.state == State.OPEN


def test_its_own_strength_goes_first(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "63.5")
    write("sample", "SA0001", vessel="VA", percent="60.00", **DRAWN)
    assert legs("SA0001") == pytest.approx({"vessel:VA": -0.12, "removal:samples": 0.12}, abs=1e-6)


def test_what_was_used_up_stays_with_the_samples(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "63.5")
    record = write("sample", "SA0001", vessel="VA", percent="60.00", **DRAWN, **ENDED)
    assert legs("SA0001") == pytest.approx({"vessel:VA": -0.12, "removal:samples": 0.12}, abs=1e-6)
    assert record.state == State.COMPLETE
    # Its end moves nothing, and the proof misses nothing.
    assert not list(prove_standing())


def test_what_is_put_back_is_in_its_cask_again(write: Write) -> None:
    write("opening_cask", number="C1", **FILLED)
    write("sample", "SA0001", vessel="C1", percent="60.00", **DRAWN)
    write("sample", "SA0001", **{**ENDED, "became": "returned to the vessel"})
    assert legs("SA0001") == {}
    assert not list(prove_standing())
    # It fills no cask: the filling and its age are what they were.
    at = Movement.objects.order_by("happened_at").last()
    assert at is not None
    filling = filling_of(Vessel.objects.get(code="C1"), at.happened_at)
    assert filling is not None
    assert filling.pure_ul == pytest.approx(weighed("230", "63.5") * 1e6, abs=2)


def test_a_regauge_does_not_miss_what_was_drawn(write: Write) -> None:
    write("opening_cask", number="C1", **FILLED)
    write("sample", "SA0001", vessel="C1", percent="60.00", **{**DRAWN, "millilitres": "500"})
    write("regauge", "RG0001", at="2027-03-07T08:00", **line("C1", "227", "63.4"))
    assert legs("RG0001")["loss:evaporation in cask"] == pytest.approx(
        weighed("230", "63.5") - 0.3 - weighed("227", "63.4"), abs=4e-6
    )


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"vessel": "VA"}, "no strength in the books"),
        ({"vessel": "VA", "percent": "60"}, "less than this sample"),
    ],
)
def test_nothing_is_drawn_from_what_is_empty(write: Write, more: dict[str, str], said: str) -> None:
    with pytest.raises(Unfit, match=said):
        write("sample", "SA0001", **more, **DRAWN)


def test_whoever_it_was_sent_to_is_named(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "63.5")
    with pytest.raises(Unfit, match="whom the sample was sent to"):
        write("sample", "SA0001", vessel="VA", **DRAWN, **{**ENDED, "became": "sent to somebody"})


def test_a_large_sample_is_known_to_whoever_compares(write: Write, opened: Callable[..., Record]) -> None:
    """20 litres at 60.0 are 12 LPA: the vat gauged next holds so much less, and nothing is to be looked into."""
    opened("VA", "1000", "60.0")
    write("sample", "SA0001", vessel="VA", percent="60.00", **{**DRAWN, "millilitres": "20000"})
    vat = {"from_vessel": "VA", "to_vessel": "GI", "at": "2027-03-07T08:00"}
    write("transfer", None, (), **vat, **_moved("980", "480", "0", "500"))
    assert [one.sentence for one in findings("2027-03")] == []


def _moved(from_before: str, from_after: str, to_before: str, to_after: str) -> dict[str, str]:
    return {
        **gauge("from_before", from_before, "60.0"),
        **gauge("from_after", from_after, "60.0"),
        **gauge("to_before", to_before),
        **gauge("to_after", to_after, "60.0"),
    }


def test_samples_of_bottling_and_of_the_sample_book_are_one_line_of_the_month(
    write: Write, opened: Callable[..., Record]
) -> None:
    """2 L at 46.0 at the line and 500 mL at 46.0 of the vat: 0.92 + 0.23 LPA."""
    opened("BV", "1000", "46.0")
    write(
        "sample",
        "SA0001",
        vessel="BV",
        percent="46.00",
        **{**DRAWN, "drawn_at": "2027-03-02T08:00", "millilitres": "500"},
    )
    write("bottling", "BO0001", (), **{**BOTTLING, **SAMPLED, **gauge("vat_before", "999.5", "46.0")})
    removed = {one.kind: one.pure_ul for one in month_account("2027-03").removals}
    assert removed == {"samples": pytest.approx(1_150_000, abs=100)}
