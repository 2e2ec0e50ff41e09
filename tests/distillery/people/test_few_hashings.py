"""Few passwords are hashed at once, and whoever would wait too long is told so."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.contrib.auth.hashers import Argon2PasswordHasher, check_password, make_password
from django.urls import reverse

from distillery.people import hashing
from distillery.people.hashing import AT_ONCE, FewAtOnce, ManySigningOn

PASSWORD = "of-tests-only"
TOGETHER = 10


class Counted:
    """Counts how many are in it at the same moment, and the most there ever were."""

    def __init__(self) -> None:
        self.now = self.most = self.times = 0
        self._lock = threading.Lock()

    def __enter__(self) -> None:
        with self._lock:
            self.now += 1
            self.times += 1
            self.most = max(self.most, self.now)

    def __exit__(self, *error: object) -> None:
        with self._lock:
            self.now -= 1


@pytest.fixture
def counted(monkeypatch) -> Counted:
    """The framework's own hashing, counted and slowed a little so that threads meet in it."""
    counting = Counted()
    verify, encode = Argon2PasswordHasher.verify, Argon2PasswordHasher.encode

    def slow_verify(self, password: str, encoded: str) -> bool:
        with counting:
            time.sleep(0.02)
            return verify(self, password, encoded)

    def slow_encode(self, password: str, salt: str) -> str:
        with counting:
            time.sleep(0.02)
            return encode(self, password, salt)

    monkeypatch.setattr(Argon2PasswordHasher, "verify", slow_verify)
    monkeypatch.setattr(Argon2PasswordHasher, "encode", slow_encode)
    return counting


@pytest.fixture
def small(monkeypatch) -> None:
    """A hash of a few kilobytes: what is tested is how many there are."""
    monkeypatch.setattr(FewAtOnce, "memory_cost", 64)


def test_ten_at_once_take_turns(counted: Counted, small) -> None:
    hasher = FewAtOnce()
    encoded = hasher.encode(PASSWORD, "salt-of-tests-only")
    with ThreadPoolExecutor(TOGETHER) as threads:
        right = list(threads.map(lambda n: hasher.verify(PASSWORD if n % 2 else "wrong", encoded), range(TOGETHER)))
    assert right == [bool(n % 2) for n in range(TOGETHER)]
    assert counted.times == TOGETHER + 1
    assert counted.most == AT_ONCE


def test_making_a_hash_takes_a_turn_too(counted: Counted, small) -> None:
    """A name that nobody has is hashed as well, so that it takes as long as one that somebody has."""
    hasher = FewAtOnce()
    with ThreadPoolExecutor(TOGETHER) as threads:
        list(threads.map(lambda n: hasher.encode(PASSWORD, f"salt-of-tests-{n}"), range(TOGETHER)))
    assert counted.most == AT_ONCE


def test_no_turn_in_time_is_said_and_the_next_one_has_it(monkeypatch, small) -> None:
    monkeypatch.setattr(hashing, "LONGEST_WAIT_S", 0.05)
    hasher = FewAtOnce()
    encoded = hasher.encode(PASSWORD, "salt-of-tests-only")
    for _ in range(AT_ONCE):
        assert hashing._turns.acquire(timeout=1)
    try:
        with pytest.raises(ManySigningOn, match="Many are signing on; try again in a moment"):
            hasher.verify(PASSWORD, encoded)
    finally:
        for _ in range(AT_ONCE):
            hashing._turns.release()
    assert hasher.verify(PASSWORD, encoded)


def test_hashes_made_before_still_hold_and_are_not_made_anew(settings) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    before = make_password(PASSWORD)
    settings.PASSWORD_HASHERS = ["distillery.people.hashing.FewAtOnce"]
    made_anew: list[str] = []
    assert check_password(PASSWORD, before, made_anew.append)
    assert not check_password("wrong", before)
    assert made_anew == []


@pytest.fixture
def no_turn(monkeypatch, settings, small):
    settings.PASSWORD_HASHERS = ["distillery.people.hashing.FewAtOnce"]
    monkeypatch.setattr(hashing, "LONGEST_WAIT_S", 0.05)

    def take_all() -> None:
        monkeypatch.setattr(hashing, "_turns", threading.BoundedSemaphore(1))
        hashing._turns.acquire()

    return take_all


def test_the_page_for_signing_on_says_it(no_turn, person_of, stranger) -> None:
    person_of("test-many", "staff")
    no_turn()
    typed = {"username": "test-many", "password": PASSWORD}
    answer = stranger.post(reverse("login"), typed)
    assert answer.status_code == 200
    assert ManySigningOn.sentence in answer.content.decode()
    assert "_auth_user_id" not in stranger.session


def test_a_second_person_is_told_so_too(no_turn, person_of, rf) -> None:
    from ledger.enquiries.opening import Unanswerable
    from ledger.views.enquiries.forms import SecondForm

    person_of("test-second", "manager")
    no_turn()
    form = SecondForm({"username": "test-second", "password": PASSWORD})
    with pytest.raises(Unanswerable, match="Many are signing on"):
        form.second(rf.post("/"))
