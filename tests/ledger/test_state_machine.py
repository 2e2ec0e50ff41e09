"""Whatever is written, late, put right or refused, in any order: the ledger agrees with one that is too simple to err.

The figures are drawn at random and mean nothing; what is compared is arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from distillery.people.models import Person
from distillery.plant.models import Kind, Stage, Vessel
from ledger.accounts import AccountRef, removal, water
from ledger.drafts import Draft, Line, Refused
from ledger.legs import PLACES
from ledger.models import Account, AccountKind, Balance, Gauge, Leg, Movement, MovementKind, RunningBalance
from ledger.month import known_periods, month_account
from ledger.posting import correct, post
from ledger.proving import prove

from . import plant
from .naive_ledger import NaiveLedger, TooLittle

pytestmark = pytest.mark.django_db

# A twelfth of the moments is on one instant, so that entries of the same moment are common; two months are touched.
HOURS = st.one_of(st.just(0), st.integers(0, 60).map(lambda n: n * 12))
LITRES = st.integers(0, 1000)
FIGURES = st.tuples(LITRES, LITRES, LITRES, LITRES)
OPERATIONS = (
    "opening", "stock take", "run", "transfer", "reduction", "cask fill", "racking", "regauge", "bottling", "removal",
)  # fmt: skip
TANKS = st.sampled_from(("A", "B", "C"))
CASKS = st.sampled_from(("1", "2"))
STOCK = AccountRef("stock:gin/70/40", AccountKind.STOCK, "gin, 70 cl", Stage.BOTTLED, None, True, 280_000)


@dataclass
class Record:
    operation: str
    number: str
    movements: list[Movement]
    model: list[int]


def tank(name: str) -> Vessel:
    return plant.vessel(name, stage=Stage.LOW_WINES if name == "A" else Stage.NEW_SPIRIT)


def cask(name: str) -> Vessel:
    return plant.vessel(f"2027/000{name}", kind=Kind.CASK, stage=Stage.MATURING)


def drafts_of(
    operation: str, number: str, hours: float, figures: tuple[int, ...], one: str, barrel: str
) -> list[Draft]:
    """The movements of a record of this operation, in the shape in which its step declares them."""
    a, b, c, d = figures
    first, second, wood = tank(one), tank("C" if one == "B" else "B"), cask(barrel)
    wooden, in_first = plant.vessel_account(wood), plant.vessel_account(first)
    still = plant.vessel_account(plant.vessel("STILL", kind=Kind.STILL, stage=Stage.LOW_WINES))
    apart = plant.difference(operation)
    lines: dict[str, tuple[Line, ...]] = {
        "opening": (plant.left(first, a, plant.source("opening stock")),),
        "stock take": (plant.found(first, a), plant.found(second, b)),
        "transfer": (plant.found(first, a), plant.found(second, b), plant.left(first, c, apart),
                     plant.left(second, d, apart)),
        "reduction": (plant.found(first, a), plant.Moved(water(), in_first, plant.quantity(0, b)),
                      plant.left(first, c, apart)),
        "cask fill": (plant.found(first, a), plant.Moved(in_first, wooden, plant.quantity(b)),
                      plant.left(first, c, apart)),
        "racking": (plant.found(first, a), plant.Moved(wooden, in_first, plant.quantity(b / 2)),
                    plant.left(first, c, apart)),
        "regauge": (plant.Moved(wooden, plant.loss("evaporation in cask"), plant.quantity(min(a, b) / 10)),
                    plant.left(wood, c, apart)),
        "bottling": (plant.found(first, a), plant.Moved(in_first, STOCK, plant.quantity(b)),
                     plant.left(first, c, apart)),
        "removal": (plant.Moved(STOCK, removal("home use"), plant.quantity(a / 2)),),
    }  # fmt: skip
    if operation != "run":
        return [plant.draft(operation, number, hours, *lines[operation])]
    return [
        plant.draft(operation, number, hours, plant.found(first, a), plant.left(first, b, still),
                    plant.found(second, c), moment="charge"),
        plant.draft(operation, number, hours + 6, plant.left(second, d, still),
                    plant.Moved(still, plant.loss("spent lees"), plant.quantity(1.2)),
                    plant.Emptied(still, apart)),
    ]  # fmt: skip


class Months(RuleBasedStateMachine):
    """Posts the same to both ledgers and looks for any difference after every step."""

    def __init__(self) -> None:
        super().__init__()
        self.rolled_back = transaction.atomic()
        self.rolled_back.__enter__()
        self.person = Person.objects.create_user("ishbel")
        self.model = NaiveLedger()
        self.standing: list[Record] = []
        self.struck: list[Movement] = []
        self.records = 0
        self.clock = 0.0

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.rolled_back.__exit__(None, None, None)

    @rule(
        operation=st.sampled_from(OPERATIONS), late=st.booleans(), hours=HOURS, figures=FIGURES, one=TANKS, barrel=CASKS
    )
    def record(
        self, operation: str, late: bool, hours: int, figures: tuple[int, ...], one: str, barrel: str
    ) -> None:
        self.records += 1
        if not late:
            self.clock += 7
        when = float(hours) if late else self.clock
        record = Record(operation, str(self.records), [], [])
        for draft in drafts_of(operation, record.number, when, figures, one, barrel):
            try:
                model = self.model.post(draft)
            except TooLittle:
                with pytest.raises(Refused, match=r"too few|more from"):
                    post(draft, person=self.person)
                return
            record.model.append(model)
            record.movements.append(post(draft, person=self.person))
        self.standing.append(record)

    @precondition(lambda self: self.standing)
    @rule(
        pick=st.integers(0), figures=FIGURES, one=TANKS, barrel=CASKS, hours=st.one_of(st.none(), HOURS),
        withdrawn=st.booleans(),
    )  # fmt: skip
    def put_right(
        self, pick: int, figures: tuple[int, ...], one: str, barrel: str, hours: int | None, withdrawn: bool
    ) -> None:
        record = self.standing[pick % len(self.standing)]
        happened = record.movements[0].happened_at
        when = float(hours) if hours is not None else (happened - plant.START).total_seconds() / 3600
        drafts = [] if withdrawn else drafts_of(record.operation, record.number, when, figures, one, barrel)
        places = [self.model.places[number] for number in record.model]
        try:
            model = self.model.replace(record.model, drafts, places)
        except TooLittle:
            with pytest.raises(Refused, match=r"too few|more from"):
                correct(record.movements, drafts, person=self.person, reason="copied wrongly")
            return
        written = correct(record.movements, drafts, person=self.person, reason="copied wrongly")
        self.struck += record.movements
        self.standing.remove(record)
        if drafts:
            self.standing.append(Record(record.operation, record.number, written, model))

    @precondition(lambda self: self.struck)
    @rule(pick=st.integers(0))
    def put_right_what_was_put_right(self, pick: int) -> None:
        with pytest.raises(Refused, match="corrected already"):
            correct([self.struck[pick % len(self.struck)]], [], person=self.person, reason="once more")

    @precondition(lambda self: self.struck)
    @rule(pick=st.integers(0))
    def put_right_an_opposite(self, pick: int) -> None:
        written = list(Movement.objects.exclude(kind=MovementKind.OPERATION).order_by("pk"))
        with pytest.raises(Refused):
            correct([written[pick % len(written)]], [], person=self.person, reason="it was right")

    @invariant()
    def both_ledgers_agree(self) -> None:
        legs = list(
            Leg.objects.order_by("happened_at", "position", "pk").values_list(
                "account__code", "happened_at", "position", "pk", "pure_ul", "mass_g"
            )
        )
        kept = {
            leg: (account, pure, mass)
            for leg, account, pure, mass in RunningBalance.objects.values_list(
                "leg_id", "account__code", "balance_ul", "mass_g"
            )
        }
        books: dict[str, tuple[int, int]] = {}
        ends: dict[str, dict[tuple[datetime, int], tuple[int, int]]] = {}
        after: dict[tuple[str, datetime, int], tuple[int, int]] = {}
        for account, happened, position, leg, pure, mass in legs:
            before = books.get(account, (0, 0))
            books[account] = before[0] + pure, before[1] + mass
            assert kept[leg] == (account, *books[account])
            ends.setdefault(account, {})[happened, position // PLACES] = books[account]
            after[account, happened, position] = books[account]
        assert len(kept) == len(legs)
        assert (sum(pure for pure, _ in books.values()), sum(mass for _, mass in books.values())) == (0, 0)
        assert {code: (pure, mass) for code, pure, mass in Balance.objects.values_list(
            "account__code", "balance_ul", "mass_g")} == books  # fmt: skip
        for code in self.model.accounts.keys() | books.keys():
            assert books.get(code, (0, 0)) == self.model.book(code), code
        self._places_agree(ends)
        self._gauges_stand(after)

    def _places_agree(self, ends: dict[str, dict[tuple[datetime, int], tuple[int, int]]]) -> None:
        """Each account after each movement: numbers of places differ between the ledgers, their order may not."""
        real_of = {
            self.model.places[model]: movement.slot
            for record in self.standing
            for model, movement in zip(record.model, record.movements, strict=True)
        }
        for code in self.model.accounts:
            for (happened, place), amount in self.model.after_movements(code).items():
                if place in real_of and (happened, real_of[place]) in ends.get(code, {}):
                    assert ends[code][happened, real_of[place]] == amount, (code, happened)

    def _gauges_stand(self, after: dict[tuple[str, datetime, int], tuple[int, int]]) -> None:
        standing = list(
            Gauge.objects.filter(movement__corrections__isnull=True).values_list(
                "account__code", "happened_at", "position", "pure_ul", "mass_g"
            )
        )
        assert len(standing) == len(self.model.gauges)
        for code, happened, position, pure, mass in standing:
            upto = [key for key in after if key[0] == code and key[1:] <= (happened, position)]
            book = after[max(upto)] if upto else (0, 0)
            assert book == (pure, mass), (code, happened)

    @invariant()
    def months_foot(self) -> None:
        stage_of = dict(Account.objects.filter(kind__in=("vessel", "stock")).values_list("code", "stage"))
        months = self.model.months()
        for period in known_periods():
            account = month_account(period)
            assert account.foots
            for line in account.stages:
                held = sum(
                    pure
                    for (month, code), (pure, _) in months.items()
                    if month <= period and stage_of.get(code) == line.stage
                )
                assert line.closing_ul == held, (period, line.stage)
            losses = sum(pure for (month, code), (pure, _) in months.items()
                         if month == period and code.startswith("loss:"))  # fmt: skip
            apart = sum(pure for (month, code), (pure, _) in months.items()
                        if month == period and code.startswith("difference:"))  # fmt: skip
            assert (account.site.loss_ul, account.site.difference_ul) == (losses, apart)

    @invariant()
    def it_proves(self) -> None:
        assert prove().broken == []


def compare(examples: int, steps: int, phases: tuple[Phase, ...] = (Phase.generate,)) -> None:
    run_state_machine_as_test(
        Months,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            derandomize=True,
            database=None,
            phases=phases,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_the_ledger_agrees_with_one_of_plain_lists() -> None:
    compare(examples=10, steps=25)


@pytest.mark.slow
def test_the_ledger_agrees_with_one_of_plain_lists_at_length() -> None:
    compare(examples=500, steps=50, phases=(Phase.generate, Phase.shrink))


def test_a_draw_that_was_struck_does_not_count_when_the_fill_is_put_right() -> None:
    """By hand: filled 100, drawn 80, the draw put right to 10; a fill of 50 still covers it."""
    person = Person.objects.create_user("ishbel")
    wood = plant.vessel_account(cask("1"))

    def fill(lpa: float) -> Draft:
        return plant.draft("fill", "F1", 0, plant.Moved(plant.source("opening stock"), wood, plant.quantity(lpa)))

    def draw(lpa: float) -> Draft:
        return plant.draft("draw", "D1", 5, plant.Moved(wood, removal("samples"), plant.quantity(lpa)))

    filled = post(fill(100), person=person)
    correct([post(draw(80), person=person)], [draw(10)], person=person, reason="another cask")
    correct([filled], [fill(50)], person=person, reason="weighed again")
    assert Balance.objects.get(account__code=wood.code).balance_ul == 40_000_000
    assert prove().broken == []


def test_a_book_below_nothing_is_shown_and_not_an_error() -> None:
    """A tank may be below nothing until its next gauge; the month's account must still open."""
    person = Person.objects.create_user("ishbel")
    drawn = plant.Moved(plant.vessel_account(tank("B")), removal("samples"), plant.quantity(2))
    post(plant.draft("samples", "S1", 0, drawn), person=person)
    account = month_account("2027-03")
    assert account.foots
    assert [(held.pure_ul, held.percent20) for held in account.vessels] == [(-2_000_000, None)]


def test_a_gauge_between_two_flows_into_its_vessel_is_met_where_it_stands() -> None:
    """By hand: 30 in, gauged at 31, 20 in: the book after the gauge is 31 and then 51."""
    person = Person.objects.create_user("ishbel")
    vat, one, two = tank("B"), tank("A"), tank("C")
    post(plant.opening(one, 100), person=person)
    post(plant.opening(two, 100), person=person)
    post(
        plant.draft(
            "vatting", "V1", 0,
            plant.Moved(plant.vessel_account(one), plant.vessel_account(vat), plant.quantity(30)),
            plant.found(vat, 31),
            plant.Moved(plant.vessel_account(two), plant.vessel_account(vat), plant.quantity(20)),
        ),
        person=person,
    )  # fmt: skip
    rows = RunningBalance.objects.filter(account__code="vessel:B").order_by("happened_at", "position", "leg_id")
    gauge = Gauge.objects.get(account__code="vessel:B")
    upto = [row.balance_ul for row in rows if row.position <= gauge.position]
    assert upto[-1] == 31_000_000
    assert Balance.objects.get(account__code="vessel:B").balance_ul == 51_000_000
