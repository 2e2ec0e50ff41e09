"""One job from being asked for to its end, however it ends: done, failed, given up, taken over, broken off for good."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from distillery.jobs import asking, files, kinds
from distillery.jobs.claiming import (
    BROKEN_OFF_TOO_OFTEN,
    MOST_BROKEN_OFF,
    SILENT_FOR,
    anything_to_do,
    claim,
    is_left,
    this_machine,
)
from distillery.jobs.kinds import Kind, UnknownKind
from distillery.jobs.models import Job, JobState
from distillery.jobs.progress import NotDone, Progress, Stopped
from distillery.jobs.working import FAULT, work_off

pytestmark = pytest.mark.django_db

Do = Callable[[Progress], str]


@pytest.fixture
def kind(monkeypatch) -> Callable[[Do], None]:
    """Registers a kind 'of tests' for one test."""

    def register(do: Do) -> None:
        monkeypatch.setitem(kinds._kinds, "of tests", Kind("of tests", "Work of tests", do, "It begins anew."))

    return register


@contextmanager
def at_once(progress: Progress) -> Iterator[None]:
    """Writes down what is told when it is told, since a test's transaction is seen by no other thread."""
    tell = progress.tell

    def tell_and_write(*told: object) -> None:
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(progress, "_stopped", False)
            tell(*told)
        progress.write_down()
        tell(*told)

    progress.tell = tell_and_write
    yield


def worked_off(**more: object) -> list[Job]:
    return list(work_off(beats=at_once, **more))


def a_file(progress: Progress) -> str:
    progress.path.write_text(f"for {progress.arguments['whom']}", encoding="utf-8")
    return "result.txt"


class TestAsking:
    def test_for_the_same_twice_is_one_job_while_it_is_open(self, kind, staff, manager) -> None:
        kind(a_file)
        first = asking.ask("of tests", {"whom": "a"}, by=staff)
        assert asking.ask("of tests", {"whom": "a"}, by=staff) == first
        assert asking.ask("of tests", {"whom": "b"}, by=staff) != first
        assert asking.ask("of tests", {"whom": "a"}, by=manager) != first
        assert len(worked_off()) == 3
        assert asking.ask("of tests", {"whom": "a"}, by=staff) != first

    def test_for_what_nobody_can_do_is_refused(self) -> None:
        with pytest.raises(UnknownKind, match="knows no long work called 'turning lead into gold'"):
            asking.ask("turning lead into gold")
        assert not Job.objects.exists()

    def test_binds_nobodys_sign_on_name(self, kind, staff) -> None:
        """It is no signature: nothing of it is in the books."""
        kind(a_file)
        signed_before = staff.has_signed()
        asking.ask("of tests", {"whom": "a"}, by=staff)
        assert staff.has_signed() == signed_before


class TestAJobThatIsDone:
    def test_has_its_result_under_a_name_nobody_guesses(self, kind, staff) -> None:
        kind(a_file)
        job = asking.ask("of tests", {"whom": "Mara"}, by=staff)
        [done] = worked_off()
        assert (done.pk, done.state, done.file_name, done.file_bytes) == (job.pk, JobState.DONE, "result.txt", 8)
        assert files.path_of(done).read_text(encoding="utf-8") == "for Mara"
        assert len(done.file) == 32
        assert not list(files.folder().glob(f"{done.file}-*"))
        assert not anything_to_do()

    def test_need_not_have_one(self, kind) -> None:
        kind(lambda progress: "")
        asking.ask("of tests")
        [done] = worked_off()
        assert (done.state, done.has_file) == (JobState.DONE, False)

    def test_loses_its_result_after_the_days_of_the_settings(self, kind, settings) -> None:
        kind(a_file)
        settings.LONG_WORK_KEPT_DAYS = 3
        asking.ask("of tests", {"whom": "a"})
        [job] = worked_off()
        assert files.remove_old() == 0
        Job.objects.update(ended_at=timezone.now() - timedelta(days=3, minutes=1))
        assert files.remove_old() == 1
        job.refresh_from_db()
        assert not job.has_file
        assert job.removed_at is not None
        assert not files.path_of(job).exists()
        assert files.remove_old() == 0
        assert asking.ask_again(job)
        [anew] = worked_off()
        assert anew.has_file
        assert files.path_of(anew).read_text(encoding="utf-8") == "for a"

    def test_is_not_done_again_while_its_result_is_there(self, kind) -> None:
        kind(a_file)
        asking.ask("of tests", {"whom": "a"})
        [job] = worked_off()
        assert not asking.ask_again(job)
        files.path_of(job).unlink()
        assert asking.ask_again(job)

    def test_leaves_old_files_of_broken_off_runs_to_their_age(self) -> None:
        old, new = files.folder() / "left-1.part", files.folder() / "left-2.part"
        for one in (old, new):
            one.touch()
        past = (timezone.now() - files.removed_after() - timedelta(minutes=1)).timestamp()
        os.utime(old, (past, past))
        files.remove_old()
        assert (old.exists(), new.exists()) == (False, True)


class TestAJobThatEndedLongAgo:
    def test_is_listed_no_more_once_its_result_is_gone(self, kind, settings) -> None:
        settings.LONG_WORK_KEPT_DAYS, settings.LONG_WORK_LISTED_DAYS = 3, 90
        kind(a_file)
        asking.ask("of tests", {"whom": "a"})
        [job] = worked_off()
        waiting = asking.ask("of tests", {"whom": "b"})
        Job.objects.update(asked_at=timezone.now() - timedelta(days=400))
        Job.objects.filter(pk=job.pk).update(ended_at=timezone.now() - timedelta(days=90, minutes=1))
        # Its file is there still, and who looks for it finds it by its row.
        assert files.forget_old() == 0
        assert files.remove_old() == 1
        assert files.forget_old() == 1
        # What waits is not forgotten, however long ago it was asked for.
        assert list(Job.objects.all()) == [waiting]

    @pytest.mark.parametrize("state", [JobState.FAILED, JobState.GIVEN_UP])
    def test_is_listed_for_as_long_as_is_set(self, kind, state: JobState, settings) -> None:
        settings.LONG_WORK_LISTED_DAYS = 30
        kind(a_file)
        job = asking.ask("of tests", {"whom": "a"})
        for days, forgotten in ((29, 0), (31, 1)):
            Job.objects.filter(pk=job.pk).update(state=state, ended_at=timezone.now() - timedelta(days=days))
            assert files.forget_old() == forgotten

    def test_is_listed_for_at_least_as_long_as_its_result_is_kept(self, kind, settings) -> None:
        kind(a_file)
        settings.LONG_WORK_KEPT_DAYS, settings.LONG_WORK_LISTED_DAYS = 60, 30
        job = asking.ask("of tests", {"whom": "a"})
        ended = timezone.now() - timedelta(days=31)
        Job.objects.filter(pk=job.pk).update(state=JobState.FAILED, ended_at=ended)
        assert files.forget_old() == 0


class TestAJobThatFails:
    @pytest.mark.parametrize(
        ("error", "said"),
        [
            (NotDone("There is no such thing."), "There is no such thing."),
            (OSError(errno.ENOSPC, "No space left on device"), "The disk is full; nothing was saved."),
            (PermissionError(errno.EACCES, "Permission denied"), "Its file cannot be written: Permission denied."),
            (ZeroDivisionError(), FAULT),
        ],
    )
    def test_says_why_and_can_be_done_again(self, kind, error: Exception, said: str) -> None:
        def fails(progress: Progress) -> str:
            progress.path.write_text("half of it", encoding="utf-8")
            raise error

        kind(fails)
        job = asking.ask("of tests", {"whom": "a"})
        [failed] = worked_off()
        assert failed.state == JobState.FAILED
        assert failed.fault.startswith(said)
        assert not list(files.folder().glob(f"{failed.file}*"))
        kind(a_file)
        assert asking.ask_again(job)
        [done] = worked_off()
        assert (done.state, done.fault, done.run) == (JobState.DONE, "", 2)

    def test_of_another_version_keeps_no_other_waiting(self, kind) -> None:
        kind(a_file)
        unknown = asking.ask("of tests", {"whom": "a"})
        Job.objects.filter(pk=unknown.pk).update(kind="of tomorrow")
        asking.ask("of tests", {"whom": "b"})
        first, second = worked_off()
        assert (first.state, second.state) == (JobState.FAILED, JobState.DONE)
        assert "knows no long work called 'of tomorrow'" in first.fault


class TestAJobGivenUp:
    def test_while_it_waits_is_not_begun(self, kind) -> None:
        kind(a_file)
        job = asking.ask("of tests", {"whom": "a"})
        assert asking.give_up(job)
        assert worked_off() == []
        assert not asking.give_up(job)

    def test_while_it_goes_on_ends_at_its_next_word_and_leaves_no_file(self, kind) -> None:
        told: list[str] = []

        def counts(progress: Progress) -> str:
            progress.path.touch()
            for place in range(5):
                if place == 2:
                    assert asking.give_up(Job.objects.get())
                progress.tell(f"{place} counted", place, 5)
                told.append(str(place))
            return "counted.txt"

        kind(counts)
        asking.ask("of tests")
        [job] = worked_off()
        assert told == ["0", "1"]
        assert (job.state, job.said, job.has_file) == (JobState.GIVEN_UP, "1 counted", False)
        assert not list(files.folder().glob(f"{job.file}*"))

    def test_in_its_last_moment_has_no_result_either(self, kind) -> None:
        def gives_up_at_the_end(progress: Progress) -> str:
            progress.path.touch()
            asking.give_up(Job.objects.get())
            return "late.txt"

        kind(gives_up_at_the_end)
        asking.ask("of tests")
        [job] = worked_off()
        assert (job.state, job.file_name) == (JobState.GIVEN_UP, "")


class TestClaiming:
    def test_takes_one_at_a_time_in_the_order_of_asking(self, kind) -> None:
        kind(a_file)
        first, second = (asking.ask("of tests", {"whom": whom}) for whom in "ab")
        assert claim() == first
        assert claim() is None
        assert not anything_to_do()
        Job.objects.filter(pk=first.pk).update(state=JobState.DONE)
        assert anything_to_do()
        assert claim() == second

    def test_two_can_never_go_on_whoever_writes(self, kind) -> None:
        kind(a_file)
        for whom in "ab":
            asking.ask("of tests", {"whom": whom})
        claim()
        with pytest.raises(IntegrityError), transaction.atomic():
            Job.objects.filter(state=JobState.WAITING).update(state=JobState.GOING_ON)

    def test_a_job_is_left_when_it_is_silent_or_its_process_is_gone(self) -> None:
        now = timezone.now()
        gone = subprocess.Popen([sys.executable, "-c", ""])
        gone.wait()
        alive = Job(alive_at=now, machine=this_machine(), process=os.getpid())
        assert not is_left(alive, now)
        assert is_left(alive, now + SILENT_FOR + timedelta(seconds=1))
        assert is_left(Job(alive_at=now, machine=this_machine(), process=gone.pid), now)
        # Of another computer's processes nothing is known but their silence.
        assert not is_left(Job(alive_at=now, machine="another", process=gone.pid), now)

    def test_a_run_given_up_for_dead_changes_nothing_any_more(self, kind) -> None:
        kind(a_file)
        asking.ask("of tests", {"whom": "a"})
        slow = claim()
        assert slow is not None
        Job.objects.update(alive_at=timezone.now() - timedelta(hours=1))
        [done] = worked_off()
        assert (done.state, done.run, done.broken_off) == (JobState.DONE, 2, 1)
        late = Progress(slow)
        late.tell("still here", 1, 2)
        late.write_down()
        with pytest.raises(Stopped):
            late.tell("still here", 2, 2)
        done.refresh_from_db()
        assert (done.state, done.said) == (JobState.DONE, "")
        assert files.path_of(done).exists()

    def test_what_ends_its_process_each_time_is_not_begun_for_ever(self, kind) -> None:
        kind(a_file)
        asking.ask("of tests", {"whom": "a"})
        claims = 0
        while claim() is not None:
            claims += 1
            Job.objects.update(alive_at=timezone.now() - timedelta(hours=1))
        job = Job.objects.get()
        assert claims == MOST_BROKEN_OFF
        assert (job.state, job.fault) == (JobState.FAILED, BROKEN_OFF_TOO_OFTEN)
        assert asking.ask_again(job)
        [done] = worked_off()
        assert (done.state, done.broken_off) == (JobState.DONE, 0)


def test_how_many_are_done_at_most_can_be_said(kind) -> None:
    kind(a_file)
    for whom in "abc":
        asking.ask("of tests", {"whom": whom})
    assert len(worked_off(most=1)) == 1
    assert Job.objects.filter(state=JobState.WAITING).count() == 2


def test_a_kind_has_its_code_for_itself() -> None:
    with pytest.raises(ValueError, match="two kinds"):
        kinds.register(Kind("export", "Another", lambda progress: "", ""))
