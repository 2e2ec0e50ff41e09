"""Kept comparisons against those made from nothing: equal to the last digit whatever is written, and never waited for.

The month is a simulated one with its slips; what is written into it is drawn at random. The short run is part of the
suite; the long one is `python -m pytest -m slow tests/batches/test_kept_comparison.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from batches.loading.load_folder import load_folder
from batches.models import Record, State
from batches.records import recording, versions
from distillery.people.models import Person
from distillery.plant.models import Cask
from distillery.seals.writing import written_by
from ledger.comparing.month import compare_month
from ledger.enquiries import following
from ledger.enquiries.models import Enquiry
from ledger.enquiries.raising import RAISED
from ledger.enquiries.standing import UNANSWERED, by_key, standings
from ledger.enquiries.standing import State as Stands
from ledger.kept import keeping
from ledger.kept.compared_month import compared_month, read, written
from ledger.kept.keeping import current, let_go, shown
from ledger.kept.models import KeptComparison, Uncompared
from ledger.models import Movement
from ledger.periods.service import CannotClose, ask
from tests.batches.random_writer import Writer
from tests.ready_databases import standing_in
from tests.simulator import simulate

pytestmark = pytest.mark.django_db

SEED = 5003
PERIOD, NEXT = "2027-03", "2027-04"
LATER = datetime.fromisoformat("2027-09-01T00:00+00:00")
BrowserOf = Callable[[Person], Client]


@pytest.fixture(scope="module")
def _simulated(filled_once: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    def fill() -> None:
        folder = tmp_path_factory.mktemp("simulated")
        simulate(SEED, folder, size="small", month=PERIOD)
        load_folder(folder)

    return filled_once("simulated_small", fill)


@pytest.fixture(scope="class")
def simulated(_simulated: Any) -> Iterator[None]:
    """A simulated small month with slips is in the database, compared once."""
    with standing_in(_simulated):
        yield


def made_from_nothing(period: str) -> tuple[Any, ...]:
    return compare_month(period).findings


def write_and_look(seed: int, times: int, staff: Person, manager: Person) -> list[str]:
    writer, done = Writer(seed, staff, manager), []
    for _ in range(times):
        what = writer.write()
        done.append(what)
        anew = made_from_nothing(PERIOD)
        assert current(PERIOD).month.findings == anew, what
        if what in ("correct", "make_void", "write_late"):
            assert not Uncompared.objects.exists()
            found = {one.key for one in anew if one.kind in RAISED}
            known = by_key(found)
            assert known.keys() == found, "each is enquired into"
            assert not {key for key, one in known.items() if one.state in (Stands.PUT_RIGHT, Stands.GONE)}
    return done


@pytest.mark.usefixtures("simulated")
class TestKeptAgainstMadeFromNothing:
    @pytest.mark.parametrize("seed", [1, 2])
    def test_after_each_of_some_writes(self, seed: int, staff: Person, manager: Person) -> None:
        done = write_and_look(seed, 14, staff, manager)
        assert len([what for what in done if what]) >= 7, done

    @pytest.mark.slow
    @pytest.mark.parametrize("seed", [11, 12, 13])
    def test_after_each_of_two_hundred_writes(self, seed: int, staff: Person, manager: Person) -> None:
        done = write_and_look(seed, 67, staff, manager)
        assert {"correct", "make_void", "write_late", "rule", "certificate", "table"} <= set(done)

    def test_what_is_written_comes_back_to_the_last_digit(self) -> None:
        month = compared_month(compare_month(PERIOD))
        assert month.findings
        assert read(written(month)) == month

    def test_thrown_away_it_comes_back_the_same(self) -> None:
        before = current(PERIOD).month
        let_go()
        assert not KeptComparison.objects.exists()
        assert current(PERIOD).month == before


@pytest.mark.usefixtures("simulated")
class TestWhenItIsMadeAnew:
    @pytest.fixture
    def made(self, monkeypatch: pytest.MonkeyPatch) -> list[str]:
        """Which periods were compared, one for each time."""
        current(PERIOD)
        current(NEXT)
        periods: list[str] = []
        real = compare_month

        def counted(period: str, **given: Any) -> Any:
            periods.append(period)
            return real(period, **given)

        monkeypatch.setattr(keeping, "compare_month", counted)
        return periods

    def test_not_while_nothing_is_written(self, made: list[str]) -> None:
        for _ in range(3):
            current(PERIOD)
            shown(NEXT)
        assert made == []

    def test_what_happens_later_leaves_earlier_periods_as_they_are(self, made: list[str], staff: Person) -> None:
        transfer = Record.objects.filter(kind="transfer").exclude(state=State.VOID).latest("happened_from")
        typed, lines = versions.typed_of(versions.newest(transfer))
        later = {name: "2027-04-02T10:00" if name == "at" else value for name, value in typed.items()}
        recording.save("transfer", None, later, lines, person=staff, sure=True)
        assert made == [NEXT]
        current(PERIOD)
        assert made == [NEXT]

    def test_a_late_entry_makes_its_period_and_those_after_it(self, made: list[str], staff: Person) -> None:
        transfer = Record.objects.filter(kind="transfer").exclude(state=State.VOID).earliest("happened_from")
        recording.void(transfer, person=staff, reason="was not done")
        current(PERIOD)
        current(NEXT)
        assert made == [PERIOD, NEXT]

    def test_a_rule_or_a_certificate_makes_all(self, made: list[str], staff: Person, manager: Person) -> None:
        Writer(1, staff, manager).rule()
        current(PERIOD)
        Writer(2, staff, manager).certificate()
        current(PERIOD)
        current(NEXT)
        assert made == [PERIOD, PERIOD, NEXT]

    def test_a_cask_that_nothing_was_in_yet_makes_none(self, made: list[str]) -> None:
        empty = Cask.objects.filter(filled_at__isnull=True).first()
        assert empty is not None
        with written_by(None, "tests"):
            Cask.objects.filter(pk=empty.pk).update(warehouse="9Z")
        current(PERIOD)
        assert made == []

    def test_other_books_of_the_same_length_make_it_anew(self, made: list[str]) -> None:
        KeptComparison.objects.filter(period=PERIOD).update(seal="0" * 64)
        current(PERIOD)
        assert made == [PERIOD]

    def test_another_release_makes_it_anew(self, made: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("ledger.kept.made_from.method", lambda: "another")
        current(PERIOD)
        current(PERIOD)
        assert made == [PERIOD]

    def test_what_the_program_did_not_write_is_not_read(self, made: list[str]) -> None:
        row = KeptComparison.objects.get(period=PERIOD)
        before = current(PERIOD).month
        forged = written(compared_month(compare_month(NEXT)))
        KeptComparison.objects.filter(pk=row.pk).update(content=forged)
        assert current(PERIOD).month.findings == before.findings
        assert made == [PERIOD]

    def test_an_older_one_in_its_place_is_not_read(self, made: list[str], staff: Person) -> None:
        older = KeptComparison.objects.get(period=PERIOD)
        transfer = Record.objects.filter(kind="transfer").exclude(state=State.VOID).earliest("happened_from")
        recording.void(transfer, person=staff, reason="was not done")
        row = KeptComparison.objects.get(period=PERIOD)
        before = current(PERIOD).month
        row.content, row.mark = older.content, older.mark
        row.save()
        assert made == [PERIOD]
        assert current(PERIOD).month.findings == before.findings
        assert made == [PERIOD, PERIOD]


@pytest.mark.usefixtures("simulated")
class TestNobodyWaitsForIt:
    def test_a_reader_is_shown_the_one_before_while_another_makes_it(
        self, staff: Person, manager: Person, monkeypatch: pytest.MonkeyPatch, browser_of: BrowserOf
    ) -> None:
        before = current(PERIOD)
        transfer = Record.objects.filter(kind="transfer").exclude(state=State.VOID).earliest("happened_from")
        with monkeypatch.context() as patched:
            patched.setattr(following, "catch_up", lambda: None)
            recording.void(transfer, person=staff, reason="was not done")
        monkeypatch.setattr(keeping, "holds_the_books", lambda: False)
        with keeping.making(PERIOD):
            there = shown(PERIOD)
            assert there.month == before.month
            assert there.behind > 0
            page = browser_of(manager).get(f"/books/findings/?month={PERIOD}").content.decode()
            assert "been written since" in page
            enquiry = Enquiry.objects.earliest("pk").number
            for address in (f"findings/?month={PERIOD}", f"months/{PERIOD}/", f"enquiries/{enquiry}/"):
                page = browser_of(manager).get(f"/books/{address}").content.decode()
                assert "data-being-compared" in page, address
                assert "compared.js" in page, "it says by itself what it came to"
        assert shown(PERIOD).behind == 0

    def test_what_a_killed_process_left_is_taken_up_by_the_next_look(
        self, staff: Person, manager: Person, monkeypatch: pytest.MonkeyPatch, browser_of: BrowserOf
    ) -> None:
        run = Record.objects.filter(kind="spirit_run").earliest("happened_from")
        dip = versions.typed_of(versions.newest(run))[0]["spirit_after_dip_mm"]
        wrong = {"spirit_after_dip_mm": str(int(dip) - 100)}
        recording.correct(run, wrong, person=staff, reason="a slip of the test", sure=True)
        enquiry = Enquiry.objects.get(record_number=run.number)
        with monkeypatch.context() as patched:
            patched.setattr(following, "catch_up", lambda: None)
            recording.correct(run, {"spirit_after_dip_mm": dip}, person=staff, reason="read again", sure=True)
        assert Uncompared.objects.filter(period=PERIOD).exists()
        assert standings([enquiry])[0].state in UNANSWERED, "nobody has compared yet"
        with pytest.raises(CannotClose):
            ask(PERIOD, person=manager, remark="x", now=LATER)
        assert not Uncompared.objects.filter(period=PERIOD).exists(), "the closing compared first"
        [stands] = standings([enquiry])
        assert stands.state in (Stands.PUT_RIGHT, Stands.WAITING), "as the note says by whom it was put right"
        assert stands.decided is not None
        assert stands.decided.record == run.number

    def test_the_next_look_takes_up_only_what_was_left(
        self, staff: Person, manager: Person, monkeypatch: pytest.MonkeyPatch, browser_of: BrowserOf
    ) -> None:
        transfer = Record.objects.filter(kind="transfer").exclude(state=State.VOID).earliest("happened_from")
        with monkeypatch.context() as patched:
            patched.setattr(following, "catch_up", lambda: None)
            recording.void(transfer, person=staff, reason="was not done")
        browser = browser_of(manager)
        browser.get(f"/books/months/{PERIOD}/")
        assert Uncompared.objects.exists(), "whoever wrote it is about to compare it"
        # As Django's test client does with its own: the books of the test stay open.
        monkeypatch.setattr("distillery.afterwards.close_old_connections", lambda: None)
        Uncompared.objects.update(at=timezone.now() - timedelta(minutes=1))
        browser.get(f"/books/months/{PERIOD}/")
        assert not Uncompared.objects.exists()
        assert current(PERIOD).month.findings == made_from_nothing(PERIOD)

    def test_what_cannot_be_compared_stays_noted_with_who_corrected_alone(
        self, staff: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def broken(period: str, **given: Any) -> None:
            raise ZeroDivisionError

        record = Record.objects.filter(kind="transfer").exclude(state=State.VOID).earliest("happened_from")
        with monkeypatch.context() as patched:
            patched.setattr(keeping, "compare_month", broken)
            recording.void(record, person=staff, reason="was not done")
        [noted] = Uncompared.objects.all()
        assert (noted.period, noted.corrected, noted.by) == (PERIOD, record.number, staff)
        following.catch_up()
        assert not Uncompared.objects.exists()

    def test_what_wrote_nothing_is_not_noted(self) -> None:
        last = Movement.objects.latest("pk").pk
        with written_by(None, "tests"):
            following.to_be_compared(last)
        assert not Uncompared.objects.exists()
