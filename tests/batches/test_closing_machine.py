"""Whatever is written, put right, made void, answered, agreed to or asked for: a month closes, or says why not.

What is said to be in the way is there, and its link leads to it. The short run is part of the suite; the long one is
`python -m pytest -m slow tests/batches/test_closing_machine.py`. The plain plant, its figures drawn at random: gauges
that agree with what was moved, and now and then a slip.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from batches.models import Posted, Record, State
from batches.records import recording, signatures
from batches.records.versions import newest, typed_of
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from distillery.people.roles import MANAGER, STAFF
from distillery.plant.models import MICRO, CalibrationPoint, Kind, Stage, Vessel
from distillery.seals.lookup import last_seal
from distillery.seals.writing import written_by
from ledger.enquiries.answering import Proposal, agree, propose, send_back, tie
from ledger.enquiries.balance import open_of
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.opening import Unanswerable
from ledger.enquiries.standing import UNANSWERED, Standing, standings
from ledger.enquiries.standing import State as Stands
from ledger.periods import is_closed, service
from ledger.periods.calendar import request_of
from ledger.periods.models import CloseRequest
from ledger.periods.readiness import next_to_close, not_ready
from ledger.periods.service import CannotClose, ask
from ledger.posting.drafts import Refused
from ledger.proof.proving import prove
from tests.people import somebody

from .tiny_plant import gauge

pytestmark = pytest.mark.django_db

TANKS = ("A", "B", "C")
FIRST_MM, DEEPEST_MM = 1000, 5000
PERCENT = "60.0"
BEGIN = datetime(2027, 3, 1, 6)
LATER = datetime(2027, 9, 1, tzinfo=UTC)
# Most gauges are right; a slip is some millimetres, ten or a hundred, either way.
SLIPS = st.sampled_from((0, 0, 0, 0, 1, -1, 7, 10, -10, 100, -100))
PICK = st.integers(0, 1_000_000)
MOST_ROUNDS = 40


class Books(RuleBasedStateMachine):
    """A small site of three tanks, a manager and two on shift, from its opening stock to the last closing."""

    def __init__(self) -> None:
        super().__init__()
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.dips = dict.fromkeys(TANKS, FIRST_MM)
        self.hours = 0
        # A page of findings takes a while to make, so each address is gone to once.
        self.been_to: set[str] = set()
        # The seal of the books when the last look was taken at what is in the way.
        self.looked_at = ""

    @initialize()
    def take_the_books(self) -> None:
        self.manager, self.staff, self.other = (Person.objects.get(username=name) for name in ("isla", "rowan", "mara"))
        self.browser = Client()
        self.browser.force_login(self.manager)

    def teardown(self) -> None:
        try:
            if hasattr(self, "manager"):
                self._settle_all()
                assert prove().broken == []
        finally:
            transaction.set_rollback(True)
            self.atomic.__exit__(None, None, None)

    # -- what people do

    def _when(self, days: int = 0) -> str:
        self.hours += 7
        return f"{BEGIN + timedelta(hours=self.hours, days=days):%Y-%m-%dT%H:%M}"

    def _gauge(self, prefix: str, dip: int, slip: int) -> dict[str, str]:
        read = min(max(dip + slip, 0), DEEPEST_MM)
        return gauge(prefix, str(read), PERCENT if read else "")

    @rule(ways=st.permutations(TANKS), litres=st.integers(10, 400), slips=st.tuples(SLIPS, SLIPS, SLIPS, SLIPS))
    def move(self, ways: list[str], litres: int, slips: tuple[int, int, int, int]) -> None:
        giver, taker = ways[0], ways[1]
        litres = min(litres, self.dips[giver])
        values = {"at": self._when(), "from_vessel": giver, "to_vessel": taker}
        values |= self._gauge("from_before", self.dips[giver], slips[0])
        values |= self._gauge("to_before", self.dips[taker], slips[1])
        values |= self._gauge("from_after", self.dips[giver] - litres, slips[2])
        values |= self._gauge("to_after", self.dips[taker] + litres, slips[3])
        if self._does(lambda: recording.save("transfer", None, values, person=self.staff, sure=True)):
            self.dips[giver] -= litres
            self.dips[taker] += litres

    @rule(tank=st.sampled_from(TANKS), slip=SLIPS)
    def take_stock(self, tank: str, slip: int) -> None:
        rows = [{"vessel": tank, **self._gauge("gauge", self.dips[tank], slip)}]
        self._does(lambda: recording.save("stock_take", None, {"at": self._when()}, rows, person=self.staff, sure=True))

    @rule(days=st.integers(5, 20))
    def time_goes_by(self, days: int) -> None:
        """Into the next month, sooner or later."""
        self.hours += 24 * days

    @rule(pick=PICK, slip=SLIPS, by_other=st.booleans())
    def put_right(self, pick: int, slip: int, by_other: bool) -> None:
        records = list(Record.objects.exclude(kind="opening_stock").exclude(state=State.VOID).order_by("pk"))
        if not records:
            return
        record = records[pick % len(records)]
        values, rows = typed_of(newest(record))
        person = self.other if by_other else self.staff
        if record.kind == "stock_take":
            rows = [row | {"gauge_dip_mm": _moved(row["gauge_dip_mm"], slip)} for row in rows]
            self._does(lambda: recording.correct(record, {}, rows, person=person, reason="Read again.", sure=True))
            return
        dips = sorted(name for name in values if name.endswith("_dip_mm"))
        name = dips[pick // 7 % len(dips)]
        changed = {name: _moved(values[name], slip)}
        self._does(lambda: recording.correct(record, changed, person=person, reason="Read again.", sure=True))

    @rule(pick=PICK)
    def make_void(self, pick: int) -> None:
        records = list(Record.objects.exclude(kind="opening_stock").exclude(state=State.VOID).order_by("pk"))
        if records and pick % 3 == 0:
            record = records[pick % len(records)]
            self._does(lambda: recording.void(record, person=self.staff, reason="Never happened."))

    @precondition(lambda self: Record.objects.filter(state=State.WAITING).exists())
    @rule(pick=PICK, agrees=st.integers(0, 3))
    def second_person(self, pick: int, agrees: int) -> None:
        waiting = list(Record.objects.filter(state=State.WAITING).order_by("pk"))
        record = waiting[pick % len(waiting)]
        if agrees:
            self._does(lambda: recording.countersign(record, self.manager, seen=newest(record).digest))
        elif signatures.newest(record) is not None:
            self._does(lambda: recording.send_back(record, person=self.manager, reason="Not so."))

    @precondition(lambda self: bool(self._unanswered()))
    @rule(pick=PICK, ending=st.sampled_from(Ending), agrees=st.integers(0, 3))
    def answer(self, pick: int, ending: Ending, agrees: int) -> None:
        unanswered = self._unanswered()
        one = unanswered[pick % len(unanswered)]
        if one.state == Stands.OPEN:
            self._does(lambda: propose(one.enquiry, self._proposal(one.enquiry, ending), person=self.staff))
        elif agrees:
            self._does(lambda: agree(one.enquiry, second=self.manager))
        else:
            self._does(lambda: send_back(one.enquiry, person=self.manager, reason="Not yet."))

    @precondition(lambda self: len(self._unanswered()) > 1)
    @rule(pick=PICK)
    def tie_two(self, pick: int) -> None:
        unanswered = self._unanswered()
        one, two = unanswered[pick % len(unanswered)], unanswered[(pick + 1) % len(unanswered)]
        self._does(lambda: tie(one.enquiry, two.enquiry, person=self.staff, reason="One hose."))

    @rule(remark=st.sampled_from(("", "Vats were gauged.")))
    def ask_to_close(self, remark: str) -> None:
        period = next_to_close()
        before = set(Enquiry.objects.values_list("number", flat=True))
        in_the_way = self._ask(period, remark)
        # Whatever was found has stayed, and nothing that was there has gone.
        assert before <= set(Enquiry.objects.values_list("number", flat=True))
        if not in_the_way:
            assert request_of(period) is not None

    @precondition(lambda self: CloseRequest.objects.exists())
    @rule()
    def agree_to_close(self) -> None:
        request = request_of(next_to_close())
        if request is None:
            return
        try:
            service.agree(request, person=self.staff, now=LATER)
        except CannotClose as refused:
            self._leads_there(refused)
        else:
            assert is_closed(request.period)

    # -- what must hold

    @invariant()
    def what_is_in_the_way_has_a_link(self) -> None:
        if not hasattr(self, "manager"):
            return
        # Whatever is written seals the books; what was refused has left all as it was.
        books_seal = last_seal()
        assert books_seal is not None
        if self.looked_at == books_seal.seal:
            return
        self.looked_at = books_seal.seal
        if period := next_to_close():
            for one in not_ready(period, now=LATER):
                assert one.href, one.sentence

    @invariant()
    def what_was_signed_is_changed_by_two(self) -> None:
        """No entry of a stock take stands without a second person."""
        alone = Posted.objects.filter(
            record__kind="stock_take", movement__corrections__isnull=True, movement__second__isnull=True
        ).exclude(movement__kind="opposite")
        assert not [row.movement_id for row in alone if not row.movement.corrects_id]

    # -- how it is done

    def _does(self, act: object) -> bool:
        """Tries one thing; what is refused leaves nothing behind."""
        try:
            with transaction.atomic():
                act()  # type: ignore[operator]
        except (Unfit, Refused, Unanswerable):
            return False
        return True

    def _ask(self, period: str, remark: str) -> bool:
        """Asks; True where something is in the way, which is then there and can be gone to."""
        try:
            ask(period, person=self.manager, remark=remark, now=LATER)
        except CannotClose as refused:
            self._leads_there(refused)
            return True
        return False

    def _leads_there(self, refused: CannotClose) -> None:
        assert refused.ways, refused.sentence
        for way in refused.ways:
            assert way.href, way.sentence
            assert way.sentence
            if way.href not in self.been_to:
                self.been_to.add(way.href)
                page = self.browser.get(way.href)
                assert page.status_code == 200, (way.href, page.status_code)

    def _unanswered(self) -> list[Standing]:
        return [one for one in standings(Enquiry.objects.order_by("pk")) if one.state in UNANSWERED]

    def _proposal(self, enquiry: Enquiry, ending: Ending) -> Proposal:
        left_ul = open_of(enquiry).open_ul
        is_loss = ending == Ending.LOSS
        return Proposal(
            ending,
            checked="All gauges.",
            reason="So it was.",
            cause="spillage" if is_loss else "",
            happened_at=enquiry.happened_at if is_loss else None,
            product="new spirit" if is_loss else "",
            pure_ul=left_ul if is_loss else 0,
            percent=60.0 if is_loss else None,
        )

    def _settle_all(self) -> None:
        """From wherever it ended: doing what the refusals name, and nothing else, closes the month."""
        period = next_to_close()
        for _ in range(MOST_ROUNDS):
            try:
                request = ask(period, person=self.manager, remark="Vats were gauged.", now=LATER)
                service.agree(request, person=self.staff, now=LATER)
            except CannotClose as refused:
                self._leads_there(refused)
                for way in refused.ways:
                    self._settle(way.href)
            else:
                assert is_closed(period)
                return
        raise AssertionError(f"{period} cannot be closed: {[one.sentence for one in not_ready(period, now=LATER)]}")

    def _settle(self, href: str) -> None:
        number = href.rstrip("/").rpartition("/")[2]
        enquiry = Enquiry.objects.filter(number=number).first()
        if enquiry is not None:
            [standing] = standings([enquiry])
            if standing.state == Stands.OPEN:
                propose(enquiry, self._proposal(enquiry, Ending.NOT_FOUND), person=self.staff)
            if standing.state in UNANSWERED:
                agree(enquiry, second=self.manager)
            return
        record = Record.objects.filter(number=number).first()
        assert record is not None, href
        try:
            recording.countersign(record, self.manager)
        except (Unfit, Refused):
            # What waits does not fit any more; whoever is asked sends it back, or takes it out where nobody signed it.
            if signatures.newest(record) is not None:
                recording.send_back(record, person=self.manager, reason="It does not fit.")
            else:
                recording.void(record, person=self.manager, reason="It does not fit.")


def open_the_books() -> None:
    """Three people, three tanks and their opening stock: what every example begins with and is rolled back to."""
    _, staff, _ = (somebody(name, role) for name, role in (("isla", MANAGER), ("rowan", STAFF), ("mara", STAFF)))
    for code in TANKS:
        with written_by(None, "tests"):
            vessel = Vessel.objects.create(
                code=code,
                name=f"Tank {code}",
                kind=Kind.VAT,
                stage=Stage.NEW_SPIRIT,
                capacity_ul=DEEPEST_MM * MICRO,
            )
            for dip in (0, DEEPEST_MM):
                CalibrationPoint.objects.create(vessel=vessel, dip_um=dip * 1000, volume_ul=dip * MICRO)
        recording.save(
            "opening_stock",
            None,
            {"vessel": code, "at": f"{BEGIN:%Y-%m-%dT%H:%M}", **gauge("gauge", str(FIRST_MM), PERCENT)},
            person=staff,
        )


def _moved(typed: str, slip: int) -> str:
    return str(min(max(int(typed) + slip, 1), DEEPEST_MM))


def close_months(examples: int, steps: int, phases: tuple[Phase, ...] = (Phase.generate,)) -> None:
    open_the_books()
    run_state_machine_as_test(
        Books,
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


@pytest.mark.long
def test_a_month_closes_or_says_why_not() -> None:
    close_months(examples=25, steps=20)


@pytest.mark.slow
def test_a_month_closes_or_says_why_not_at_length() -> None:
    close_months(examples=100, steps=30, phases=(Phase.generate, Phase.shrink))
