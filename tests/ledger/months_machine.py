"""A machine that writes, corrects, voids, closes and explains at random, beside a ledger of plain lists."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from distillery.people.roles import MANAGER, STAFF
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
from ledger.posting.accounts import AccountRef
from ledger.posting.drafts import Refused
from ledger.posting.legs import PLACES
from ledger.posting.post import correct, post
from ledger.proof.proving import prove
from ledger.statements.month import known_periods, month_account
from tests.people import somebody

from . import plant
from .machine_drafts import CASKS, EXPLANATION, FIGURES, HOURS, OPERATIONS, TANKS, Record, drafts_of, explained
from .naive_ledger import NaiveLedger, TooLittle

# The periods are long over when they are closed.
MUCH_LATER = datetime(2029, 1, 1, tzinfo=UTC)


PROVED_EVERY = 20


Sums = dict[tuple[str, str], tuple[int, int]]


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
