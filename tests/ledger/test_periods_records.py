"""Records put right or written late after their month was closed: everything ends as if it had never been closed.

The same plant is worked twice, once with the month of March closed before anything is put right and once without;
books, links and contents must come out alike. Invented plant, one litre a millimetre at 20 °C.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import transaction

from batches.models import Contents, Link, Record, State
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from ledger.models import Balance, Duty, Gauge, Leg, Movement
from ledger.periods import readiness
from ledger.periods.readiness import not_ready
from ledger.periods.service import CannotClose, agree, ask
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.batches import tiny_plant
from tests.batches.posted_steps import CASKS, FILL, SPIRIT_CHARGE, SPIRIT_FINISH
from tests.batches.tiny_plant import gauge
from tests.distillery.rules.invented_rate import enter_rate

pytestmark = pytest.mark.django_db

LATER = datetime(2027, 6, 1, tzinfo=UTC)
APRIL = datetime(2027, 3, 31, 23, tzinfo=UTC)
Scenario = Callable[["Hand"], None]


class Hand:
    """Somebody who writes, and who puts right after the month was closed, or not."""

    def __init__(self, staff: Person, manager: Person, *, closes: bool) -> None:
        self.staff, self.manager, self.closes = staff, manager, closes

    def write(self, kind: str, number: str | None = None, rows: Any = (), /, **values: str) -> Record:
        return recording.save(kind, number, values, rows, person=self.staff, sure=True)

    def right(self, record: Record, **values: str) -> None:
        recording.correct(record, values, person=self.staff, reason="read again")

    def close_march(self) -> None:
        if self.closes:
            agree(
                ask("2027-03", person=self.manager, remark="stock was taken by eye", now=LATER),
                person=self.staff,
                now=LATER,
            )


def outcome() -> dict[str, Any]:
    """What the books, the links and the contents of vessels come to."""
    nets: dict[tuple[str, str], list[int]] = {}
    for number, code, pure, mass in Leg.objects.values_list(
        "movement__record_number", "account__code", "pure_ul", "mass_g"
    ):
        net = nets.setdefault((number, code), [0, 0])
        net[0] += pure
        net[1] += mass
    numbers = {0: "", **dict(Record.objects.values_list("pk", "number"))}
    contents = Contents.objects.select_related("account").order_by("happened_at", "slot")
    newest = {row.account.code: row for row in contents}
    return {
        "balances": {
            code: (pure, mass)
            for code, pure, mass in Balance.objects.values_list("account__code", "balance_ul", "mass_g")
        },
        "by record": {key: net for key, net in nets.items() if any(net)},
        "gauges": sorted(
            Gauge.objects.standing().values_list("account__code", "happened_at", "name", "pure_ul", "book_ul")
        ),
        "duty": sum(Duty.objects.values_list("pence", flat=True)),
        "links": sorted(
            Link.objects.exclude(account=None).values_list(
                "giver__number", "taker__number", "account__code", "happened_at", "pure_ul"
            )
        ),
        "contents": {
            code: sorted((numbers[giver], pure) for giver, pure in row.by_giver().items())
            for code, row in newest.items()
        },
    }


def fills_and_regauges(hand: Hand) -> None:
    """A fill put right after its cask was regauged in the closed month and again in the open one."""
    hand.write("opening_stock", vessel="VA", at="2027-03-01T06:00", **gauge("gauge", "1000", "63.5"))
    fill = hand.write("cask_fill", "CF0001", CASKS, **FILL)
    weighing = {"cask": "C1", "tare_kg": "50", "celsius": "20", "hydrometer_percent": "63.0"}
    hand.write("regauge", "RG0001", at="2027-03-20T08:00", gross_kg="228", **weighing)
    hand.close_march()
    hand.write("regauge", "RG0002", at="2027-04-20T08:00", gross_kg="226", **weighing)
    casks = [CASKS[0] | {"gross_kg": "229.0"}, CASKS[1]]
    recording.correct(fill, {"vat_after_dip_mm": "610"}, casks, person=hand.staff, reason="read again")
    # Written late, between the fill and the regauge of the closed month.
    hand.write("regauge", "RG0003", at="2027-03-10T08:00", gross_kg="228.8", **weighing)


def run_over_the_months_end(hand: Hand) -> None:
    """A run charged in the closed month and finished in the open one; its charge is put right, then it is made void."""
    hand.write("opening_stock", vessel="LW", at="2027-03-01T06:00", **gauge("gauge", "1000", "24.0"))
    hand.write("opening_stock", vessel="FE", at="2027-03-01T06:00", **gauge("gauge", "500", "36.0"))
    charge = SPIRIT_CHARGE | {"charged_at": "2027-03-31T22:00"}
    finish = SPIRIT_FINISH | {"ended_at": "2027-04-01T05:00", "spirit_on_at": "2027-03-31T23:00"}
    run = hand.write("spirit_run", "SR0001", **charge)
    other = hand.write(
        "transfer",
        "TR0001",
        at="2027-03-20T08:00",
        from_vessel="LW",
        to_vessel="FE",
        **gauge("from_before", "1000", "24.0"),
        **gauge("to_before", "500", "36.0"),
        **gauge("from_after", "1000", "24.0"),
        **gauge("to_after", "500", "36.1"),
    )
    hand.close_march()
    hand.write("spirit_run", "SR0001", **finish)
    hand.right(run, low_wines_after_dip_mm="80")
    later = {"charged_at": "2027-04-01T00:30", "spirit_on_at": "2027-04-01T01:30"}
    hand.right(run, low_wines_after_dip_mm="60", **later)
    hand.right(run, charged_at="2027-03-31T21:00")
    recording.void(other, person=hand.staff, reason="never happened")


def one_transfer_after_another(hand: Hand) -> None:
    """The first of two transfers in the closed month is put right, so that other spirit was in the second."""
    hand.write("opening_stock", vessel="VA", at="2027-03-01T06:00", **gauge("gauge", "1000", "60"))
    hand.write("opening_stock", vessel="SP", at="2027-03-01T06:00", **gauge("gauge", "500", "60"))

    def transfer(at: str, source: str, to: str, before: tuple[str, str], after: tuple[str, str]) -> Record:
        return hand.write(
            "transfer",
            None,
            at=at,
            from_vessel=source,
            to_vessel=to,
            **gauge("from_before", before[0], "60"),
            **gauge("to_before", before[1], "60" if before[1] != "0" else ""),
            **gauge("from_after", after[0], "60"),
            **gauge("to_after", after[1], "60"),
        )

    first = transfer("2027-03-05T08:00", "VA", "SP", ("1000", "500"), ("800", "700"))
    transfer("2027-03-10T08:00", "SP", "BV", ("700", "0"), ("100", "600"))
    hand.close_march()
    transfer("2027-04-10T08:00", "BV", "SP", ("600", "100"), ("500", "200"))
    hand.right(first, from_after_dip_mm="790", to_after_dip_mm="710")


def bottles_and_duty(hand: Hand) -> None:
    """Bottles that left for home use in the closed month are counted again."""
    stock = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}
    hand.write("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **stock)
    left = hand.write("removal", "RM0001", at="2027-03-09T08:00", kind="home use", bottles="60", **stock)
    hand.close_march()
    hand.write("removal", "RM0002", at="2027-04-09T08:00", kind="home use", bottles="30", **stock)
    with pytest.raises(Unfit, match="there are 70 bottles of gin"):
        hand.right(left, bottles="71")
    hand.right(left, bottles="70")


@pytest.mark.parametrize(
    "scenario",
    [fills_and_regauges, run_over_the_months_end, one_transfer_after_another, bottles_and_duty],
)
def test_everything_ends_as_if_never_closed(
    scenario: Scenario, staff: Person, manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    # These figures are so plain that they raise enquiries, and answering them is another room's.
    monkeypatch.setattr(readiness, "unanswered_up_to", lambda period: [])
    tiny_plant.build()
    enter_rate()
    outcomes = []
    for closes in (False, True):
        with transaction.atomic():
            scenario(Hand(staff, manager, closes=closes))
            assert prove().broken == []
            carried = Movement.objects.filter(true_at__isnull=False)
            assert carried.exists() is closes
            assert set(carried.values_list("happened_at", "period")) <= {(APRIL, "2027-04")}
            assert all(month_account(period).foots for period in ("2027-03", "2027-04"))
            outcomes.append(outcome())
            transaction.set_rollback(True)
    for name, expected in outcomes[0].items():
        assert outcomes[1][name] == expected, name


def test_the_closed_months_account_and_its_duty_stay_and_the_open_one_bears_the_difference(
    staff: Person, manager: Person
) -> None:
    """By hand: 60 bottles of 0.2898 LPA left in March; ten more are found to have left, 2.898 LPA of duty in April."""
    tiny_plant.build()
    enter_rate()
    hand = Hand(staff, manager, closes=True)
    stock = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}
    hand.write("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **stock)
    left = hand.write("removal", "RM0001", at="2027-03-09T08:00", kind="home use", bottles="60", **stock)
    hand.close_march()
    [march] = month_account("2027-03").removals
    hand.right(left, bottles="70")
    assert list(month_account("2027-03").removals) == [march]
    [april] = month_account("2027-04").removals
    assert (march.pure_ul, april.pure_ul) == (17_388_000, 2_898_000)
    rate = Duty.objects.filter(pence__gt=0).latest("pk").rate_pence_hundredths
    # Duty is worked out for each removal as a whole: seventy bottles less sixty.
    assert april.pence == 20_286 * rate // 100_000 - march.pence
    assert Movement.objects.latest("pk").duties.get().source == left.postings.first().movement.duties.get().source


def test_what_waits_or_is_not_finished_stands_in_the_way(staff: Person, manager: Person) -> None:
    tiny_plant.build()
    hand = Hand(staff, manager, closes=True)
    hand.write("opening_stock", vessel="LW", at="2027-03-01T06:00", **gauge("gauge", "1000", "24.0"))
    hand.write("opening_stock", vessel="FE", at="2027-03-01T06:00", **gauge("gauge", "500", "36.0"))
    hand.write("spirit_run", "SR0001", **SPIRIT_CHARGE)
    rows = ({"vessel": "FE", **gauge("gauge", "20", "36.0")},)
    take = recording.save("stock_take", None, {"at": "2027-03-31T06:00"}, rows, person=staff)
    assert take.state == State.WAITING
    found = not_ready("2027-03", now=LATER)
    assert (
        "Stock take ST0001 of Wed 31 Mar 2027 06:00 waits for a second person; it is in the books only when "
        "somebody has agreed.",
        True,
    ) in [(one.sentence, one.must) for one in found]
    assert (
        "Spirit run SR0001 of Fri 5 Mar 2027 08:00 is not finished; finish it, or say that it is still going on.",
        False,
    ) in [(one.sentence, one.must) for one in found]
    assert [one.href for one in found if "ST0001" in one.sentence] == ["/records/stock_take/ST0001/"]
    with pytest.raises(CannotClose, match="things in all"):
        ask("2027-03", person=manager, remark="x", now=LATER)
    recording.countersign(take, manager)
    hand.write("spirit_run", "SR0001", **SPIRIT_FINISH)
    left = [one.sentence for one in not_ready("2027-03", now=LATER)]
    assert not [said for said in left if "Spirit run" in said or "tock take" in said]
