"""Whatever is written, late, put right, explained, closed or refused, in any order: the ledger agrees with one that is
too simple to err.

The short run is part of the suite; the long one is `python -m pytest -m slow tests/ledger/test_state_machine.py`.

The figures are drawn at random and mean nothing; what is compared is arithmetic.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from distillery.people.roles import MANAGER, STAFF
from distillery.plant.models import Kind, Stage, Vessel
from ledger.models import (
    Account,
    AccountKind,
    AccountMonth,
    Balance,
    Gauge,
    Head,
    Leg,
    Movement,
    MovementKind,
    RunningBalance,
)
from ledger.periods.models import Closing, ClosingBalance
from ledger.periods.places import CARRIED
from ledger.periods.readiness import next_to_close
from ledger.periods.service import agree, ask
from ledger.posting.accounts import AccountRef, removal, water
from ledger.posting.drafts import Draft, Line, Refused
from ledger.posting.legs import PLACES
from ledger.posting.post import correct, post
from ledger.proof.proving import prove
from ledger.statements.month import known_periods, month_account
from tests.people import somebody

from . import plant
from .naive_ledger import NaiveLedger, TooLittle

pytestmark = pytest.mark.django_db

# A twelfth of the moments is on one instant, so that entries of the same moment are common; two months are touched.
HOURS = st.one_of(st.just(0), st.integers(0, 60).map(lambda n: n * 12))
LITRES = st.integers(0, 1000)
FIGURES = st.tuples(LITRES, LITRES, LITRES, LITRES)
OPERATIONS = (
    "opening",
    "stock take",
    "run",
    "transfer",
    "reduction",
    "cask fill",
    "racking",
    "regauge",
    "bottling",
    "removal",
)
TANKS = st.sampled_from(("A", "B", "C"))
CASKS = st.sampled_from(("1", "2"))
# The periods are long over when they are closed.
MUCH_LATER = datetime(2029, 1, 1, tzinfo=UTC)
EXPLANATION = "explanation"
PROVED_EVERY = 20
Sums = dict[tuple[str, str], tuple[int, int]]
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
        "transfer": (
            plant.found(first, a),
            plant.found(second, b),
            plant.left(first, c, apart),
            plant.left(second, d, apart),
        ),
        "reduction": (
            plant.found(first, a),
            plant.Moved(water(), in_first, plant.quantity(0, b)),
            plant.left(first, c, apart),
        ),
        "cask fill": (
            plant.found(first, a),
            plant.Moved(in_first, wooden, plant.quantity(b)),
            plant.left(first, c, apart),
        ),
        "racking": (
            plant.found(first, a),
            plant.Moved(wooden, in_first, plant.quantity(b / 2)),
            plant.left(first, c, apart),
        ),
        "regauge": (
            plant.Moved(wooden, plant.loss("evaporation in cask"), plant.quantity(min(a, b) / 10)),
            plant.left(wood, c, apart),
        ),
        "bottling": (
            plant.found(first, a),
            plant.Moved(in_first, STOCK, plant.quantity(b)),
            plant.left(first, c, apart),
        ),
        "removal": (plant.Moved(STOCK, removal("home use"), plant.quantity(a / 2)),),
    }
    if operation != "run":
        return [plant.draft(operation, number, hours, *lines[operation])]
    return [
        plant.draft(
            operation,
            number,
            hours,
            plant.found(first, a),
            plant.left(first, b, still),
            plant.found(second, c),
            moment="charge",
        ),
        plant.draft(
            operation,
            number,
            hours + 6,
            plant.left(second, d, still),
            plant.Moved(still, plant.loss("spent lees"), plant.quantity(1.2)),
            plant.Emptied(still, apart),
        ),
    ]


def explained(number: str, hours: float, apart: AccountRef, pure_ul: int) -> Draft:
    """A part of a difference, put down to a known loss; a surplus the other way."""
    known, amount = plant.loss("evaporation in tank"), plant.quantity(abs(pure_ul) / 1e6)
    giver, taker = (apart, known) if pure_ul > 0 else (known, apart)
    return plant.draft(EXPLANATION, number, hours, plant.Moved(giver, taker, amount, stage=Stage.NEW_SPIRIT))


class Months(RuleBasedStateMachine):
    """Posts the same to both ledgers and looks for any difference after every step."""

    def __init__(self) -> None:
        super().__init__()
        self.rolled_back = transaction.atomic()
        self.rolled_back.__enter__()
        self.person, self.other = somebody("ishbel", MANAGER), somebody("callum", STAFF)
        self.model = NaiveLedger()
        # What the months come to in the books, and what each closing has frozen of them.
        self.booked: Sums = {}
        self.true_months: Sums = {}
        self.frozen: dict[str, dict[str, tuple[int, int]]] = {}
        self.standing: list[Record] = []
        self.struck: list[Movement] = []
        self.records = 0
        self.clock = 0.0
        # Numbers of the newest movement when the months and the proof were looked at last.
        self.looked_at, self.proved_at = 0, 0

    def teardown(self) -> None:
        try:
            assert prove().broken == []
        finally:
            transaction.set_rollback(True)
            self.rolled_back.__exit__(None, None, None)

    @rule(
        operation=st.sampled_from(OPERATIONS), late=st.booleans(), hours=HOURS, figures=FIGURES, one=TANKS, barrel=CASKS
    )
    def record(self, operation: str, late: bool, hours: int, figures: tuple[int, ...], one: str, barrel: str) -> None:
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
        pick=st.integers(0),
        figures=FIGURES,
        one=TANKS,
        barrel=CASKS,
        hours=st.one_of(st.none(), HOURS),
        withdrawn=st.booleans(),
    )
    def put_right(
        self, pick: int, figures: tuple[int, ...], one: str, barrel: str, hours: int | None, withdrawn: bool
    ) -> None:
        record = self.standing[pick % len(self.standing)]
        happened = record.movements[0].took_place_at
        when = float(hours) if hours is not None else (happened - plant.START).total_seconds() / 3600
        withdrawn = withdrawn or record.operation == EXPLANATION
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

    @precondition(lambda self: len(self.two_alike()) == 2)
    @rule(figures=FIGURES, one=TANKS, barrel=CASKS)
    def put_two_records_right_at_once(self, figures: tuple[int, ...], one: str, barrel: str) -> None:
        """Records of one operation have moments of the same name; each must keep its own place."""
        pair = self.two_alike()
        drafts, places = [], []
        for record in pair:
            hours = (record.movements[0].took_place_at - plant.START).total_seconds() / 3600
            drafts += drafts_of(record.operation, record.number, hours, figures, one, barrel)
            places += [self.model.places[number] for number in record.model]
        in_time = sorted(range(len(drafts)), key=lambda index: (drafts[index].happened_at, places[index]))
        drafts, places = [drafts[index] for index in in_time], [places[index] for index in in_time]
        old = [number for record in pair for number in record.model]
        movements = [movement for record in pair for movement in record.movements]
        try:
            model = self.model.replace(old, drafts, places)
        except TooLittle:
            with pytest.raises(Refused, match=r"too few|more from"):
                correct(movements, drafts, person=self.person, reason="columns exchanged")
            return
        written = correct(movements, drafts, person=self.person, reason="columns exchanged")
        self.struck += movements
        for record in pair:
            self.standing.remove(record)
            own = [index for index, movement in enumerate(written) if movement.record_number == record.number]
            self.standing.append(
                Record(record.operation, record.number, [written[i] for i in own], [model[i] for i in own])
            )

    def two_alike(self) -> list[Record]:
        """The newest two records that stand of the operation of the oldest one."""
        first = next((record.operation for record in self.standing if record.operation != EXPLANATION), "")
        return [record for record in self.standing if record.operation == first][-2:]

    @precondition(lambda self: self.differences())
    @rule(pick=st.integers(0), share=st.integers(1, 100), hours=st.one_of(st.none(), HOURS))
    def explain(self, pick: int, share: int, hours: int | None) -> None:
        differences = self.differences()
        apart, pure_ul = differences[pick % len(differences)]
        self.records += 1
        draft = explained(str(self.records), self.clock if hours is None else hours, apart, pure_ul * share // 100)
        movement = post(draft, person=self.person, second=self.other, kind=MovementKind.EXPLANATION)
        self.standing.append(Record(EXPLANATION, str(self.records), [movement], [self.model.post(draft)]))

    def differences(self) -> list[tuple[AccountRef, int]]:
        """Accounts of difference with something on them."""
        return [
            (account, pure)
            for code, account in sorted(self.model.accounts.items())
            if account.kind == AccountKind.DIFFERENCE and abs(pure := self.model.book(code)[0]) >= 100
        ]

    @precondition(lambda self: len(self.standing) > 4 and len(self.frozen) < 3 and bool(next_to_close()))
    @rule(sure=st.integers(0, 3))
    def close(self, sure: int) -> None:
        """One time in four, so that most of a run is not spent on the wrong side of a closing."""
        if sure:
            return
        period = next_to_close()
        agree(ask(period, person=self.person, remark="all written", now=MUCH_LATER), person=self.other, now=MUCH_LATER)
        sums: dict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
        for (month, code), (pure, mass) in self.booked.items():
            if month <= period:
                sums[code] = sums[code][0] + pure, sums[code][1] + mass
        self.frozen[period] = {code: amount for code, amount in sums.items() if amount != (0, 0)}

    @precondition(lambda self: self.struck)
    @rule(pick=st.integers(0))
    def put_right_what_was_put_right(self, pick: int) -> None:
        with pytest.raises(Refused, match="corrected already"):
            correct([self.struck[pick % len(self.struck)]], [], person=self.person, reason="once more")

    @precondition(lambda self: self.struck)
    @rule(pick=st.integers(0))
    def put_right_an_opposite(self, pick: int) -> None:
        entries = (MovementKind.OPERATION, MovementKind.EXPLANATION)
        written = list(Movement.objects.exclude(kind__in=entries).order_by("pk"))
        with pytest.raises(Refused):
            correct([written[pick % len(written)]], [], person=self.person, reason="it was right")

    @invariant()
    def both_ledgers_agree(self) -> None:
        legs = list(
            Leg.objects.order_by("happened_at", "position", "pk").values_list(
                "account__code", "happened_at", "position", "pk", "pure_ul", "mass_g", "movement__true_at"
            )
        )
        kept = {
            leg: (account, pure, mass)
            for leg, account, pure, mass in RunningBalance.objects.values_list(
                "leg_id", "account__code", "balance_ul", "mass_g"
            )
        }
        books: dict[str, tuple[int, int]] = {}
        for account, _happened, _position, leg, pure, mass, _true_at in legs:
            before = books.get(account, (0, 0))
            books[account] = before[0] + pure, before[1] + mass
            assert kept[leg] == (account, *books[account])
        assert len(kept) == len(legs)
        assert (sum(pure for pure, _ in books.values()), sum(mass for _, mass in books.values())) == (0, 0)
        assert {
            code: (pure, mass)
            for code, pure, mass in Balance.objects.values_list("account__code", "balance_ul", "mass_g")
        } == books
        for code in self.model.accounts.keys() | books.keys():
            assert books.get(code, (0, 0)) == self.model.book(code), code
        self._agrees_in_true_order(legs)

    def _agrees_in_true_order(self, legs: list[tuple[str, datetime, int, int, int, int, datetime | None]]) -> None:
        """What a closed period does not carry any more still stands in its true place for every gauge after it."""
        truly = sorted(
            (true_at or happened, position + CARRIED if true_at else position, leg, account, pure, mass)
            for account, happened, position, leg, pure, mass, true_at in legs
        )
        books: dict[str, tuple[int, int]] = {}
        ends: dict[str, dict[tuple[datetime, int], tuple[int, int]]] = {}
        after: dict[tuple[str, datetime, int], tuple[int, int]] = {}
        for happened, position, _leg, account, pure, mass in truly:
            before = books.get(account, (0, 0))
            books[account] = before[0] + pure, before[1] + mass
            ends.setdefault(account, {})[happened, position // PLACES] = books[account]
            after[account, happened, position] = books[account]
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
        if self._newest() == self.looked_at:
            return
        self.looked_at = self._newest()
        self._book_what_is_new()
        stage_of = dict(Account.objects.filter(kind__in=("vessel", "stock")).values_list("code", "stage"))
        for period in known_periods():
            account = month_account(period)
            assert account.foots
            for line in account.stages:
                held = sum(
                    pure
                    for (month, code), (pure, _) in self.booked.items()
                    if month <= period and stage_of.get(code) == line.stage
                )
                assert line.closing_ul == held, (period, line.stage)
            losses = sum(
                pure for (month, code), (pure, _) in self.booked.items() if month == period and code.startswith("loss:")
            )
            apart = sum(
                pure
                for (month, code), (pure, _) in self.booked.items()
                if month == period and code.startswith("difference:")
            )
            assert (account.site.loss_ul, account.site.difference_ul) == (losses, apart)

    def _book_what_is_new(self) -> None:
        """What has changed in a closed month since the last look belongs to the first open one."""
        closed = max(self.frozen, default="")
        year, month = (int(closed[:4]), int(closed[5:])) if closed else (0, 0)
        first_open = f"{year + month // 12:04d}-{month % 12 + 1:02d}"
        now = self.model.months()
        for key in now.keys() | self.true_months.keys():
            new, old = now.get(key, (0, 0)), self.true_months.get(key, (0, 0))
            booked = (first_open, key[1]) if key[0] <= closed else key
            before = self.booked.get(booked, (0, 0))
            self.booked[booked] = before[0] + new[0] - old[0], before[1] + new[1] - old[1]
        self.true_months = now

    @invariant()
    def what_was_closed_stays_as_it_was(self) -> None:
        assert set(Closing.objects.values_list("period", flat=True)) == set(self.frozen)
        for period, frozen in self.frozen.items():
            rows = ClosingBalance.objects.filter(closing__period=period)
            assert {code: (p, m) for code, p, m in rows.values_list("account__code", "pure_ul", "mass_g")} == frozen
            sums = (
                AccountMonth.objects.filter(period__lte=period)
                .values_list("account__code")
                .annotate(pure=Sum("pure_ul"), mass=Sum("mass_g"))
            )
            assert {code: (p, m) for code, p, m in sums if p or m} == frozen

    @invariant()
    def it_proves(self) -> None:
        """Now and then, since the proof goes over everything; and once more at the end of each run."""
        if self._newest() >= self.proved_at + PROVED_EVERY:
            self.proved_at = self._newest()
            assert prove().broken == []

    def _newest(self) -> int:
        return Head.objects.get(id=1).last_number


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


@pytest.mark.usefixtures("nothing_compared")
def test_the_ledger_agrees_with_one_of_plain_lists() -> None:
    compare(examples=10, steps=25)


@pytest.mark.slow
@pytest.mark.usefixtures("nothing_compared")
def test_the_ledger_agrees_with_one_of_plain_lists_at_length() -> None:
    compare(examples=500, steps=50, phases=(Phase.generate, Phase.shrink))


def test_two_records_put_right_at_once_keep_their_own_places_and_meet_the_gauge_between_them() -> None:
    """By hand: a tank opened at 100 and drawn twice, to 70 and, after a stock take at 60, to 50.

    Both draws are put right in one writing, to 80 and to 40, at the moment they happened. The stock take between them
    then finds 20 too little, and the second draw begins at the 60 that it found.
    """
    person = somebody("ishbel")
    vat = tank("B")

    def draw(number: str, hours: float, before: float, after: float) -> Draft:
        apart = plant.difference("draw")
        return plant.draft("draw", number, hours, plant.found(vat, before), plant.left(vat, after, apart))

    post(plant.opening(vat, 100), person=person)
    first = post(draw("D1", 10, 100, 70), person=person)
    post(plant.draft("stock take", "S1", 15, plant.found(vat, 60)), person=person)
    second = post(draw("D2", 20, 60, 50), person=person)
    written = correct(
        [first, second], [draw("D1", 10, 100, 80), draw("D2", 20, 60, 40)], person=person, reason="read by one hand"
    )
    assert [(one.record_number, one.slot) for one in written] == [("D1", first.slot), ("D2", second.slot)]
    rows = RunningBalance.objects.filter(account__code="vessel:B").order_by("happened_at", "position", "leg_id")
    after = {(row.happened_at, row.position): row.balance_ul for row in rows}
    gauges = Gauge.objects.standing().order_by("happened_at", "position")
    assert [gauge.pure_ul for gauge in gauges] == [n * 1_000_000 for n in (100, 100, 80, 60, 60, 40)]
    for gauge in gauges.filter(happened_at__gt=plant.at(12)):
        upto = max(key for key in after if key <= (gauge.happened_at, gauge.position))
        assert after[upto] == gauge.pure_ul
    assert Balance.objects.get(account__code="difference:draw").balance_ul == 40_000_000
    assert prove().broken == []


def test_two_records_of_one_moment_are_put_right_in_the_order_of_their_places() -> None:
    """By hand: two gauges of one moment, 70 and then 60; put right at once, named the other way round, to 80 and 50."""
    person = somebody("ishbel")
    first, second = (
        post(plant.draft("stock take", number, 5, plant.found(tank("B"), lpa)), person=person)
        for number, lpa in (("S1", 70), ("S2", 60))
    )
    right = (("S2", 50), ("S1", 80))
    drafts = [plant.draft("stock take", number, 5, plant.found(tank("B"), lpa)) for number, lpa in right]
    written = correct([second, first], drafts, person=person, reason="read again")
    assert [one.record_number for one in written] == ["S1", "S2"]
    assert [gauge.book_ul for gauge in Gauge.objects.standing().order_by("position")] == [0, 80_000_000]
    assert Balance.objects.get(account__code="vessel:B").balance_ul == 50_000_000
    assert prove().broken == []


def test_a_draw_that_was_struck_does_not_count_when_the_fill_is_put_right() -> None:
    """By hand: filled 100, drawn 80, the draw put right to 10; a fill of 50 still covers it."""
    person = somebody("ishbel")
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
    person = somebody("ishbel")
    drawn = plant.Moved(plant.vessel_account(tank("B")), removal("samples"), plant.quantity(2))
    post(plant.draft("samples", "S1", 0, drawn), person=person)
    account = month_account("2027-03")
    assert account.foots
    assert [(held.pure_ul, held.percent20) for held in account.vessels] == [(-2_000_000, None)]


def test_a_gauge_between_two_flows_into_its_vessel_is_met_where_it_stands() -> None:
    """By hand: 30 in, gauged at 31, 20 in: the book after the gauge is 31 and then 51."""
    person = somebody("ishbel")
    vat, one, two = tank("B"), tank("A"), tank("C")
    post(plant.opening(one, 100), person=person)
    post(plant.opening(two, 100), person=person)
    post(
        plant.draft(
            "vatting",
            "V1",
            0,
            plant.Moved(plant.vessel_account(one), plant.vessel_account(vat), plant.quantity(30)),
            plant.found(vat, 31),
            plant.Moved(plant.vessel_account(two), plant.vessel_account(vat), plant.quantity(20)),
        ),
        person=person,
    )
    rows = RunningBalance.objects.filter(account__code="vessel:B").order_by("happened_at", "position", "leg_id")
    gauge = Gauge.objects.get(account__code="vessel:B")
    upto = [row.balance_ul for row in rows if row.position <= gauge.position]
    assert upto[-1] == 31_000_000
    assert Balance.objects.get(account__code="vessel:B").balance_ul == 51_000_000
