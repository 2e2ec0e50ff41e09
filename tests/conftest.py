"""What every test may ask for: people of each role, a stranger, and a month that is loaded once.

The database is the one DATABASE_URL names, SQLite in memory if it names none. A test that asks for
`loaded_month` sees the sample month of fixtures/ in the database and may write: it is rolled back after.
"""

from __future__ import annotations

import math
import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit

import hypothesis
import pytest
from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections
from django.test import Client

from tests.engine_free import forbid, is_engine_free
from tests.exhaustive import EACH_ENGINE, is_exhaustive
from tests.made_once import made_once
from tests.one_of_each import further_values
from tests.ready_databases import BOOKS_STAND_AT, SHARED_FOLDER, filled_database, shared_folder
from tests.running_site import SECRET_KEY, Databases, sqlite_file

pytest_plugins = ["tests.database_fixtures"]

ROOT = Path(__file__).resolve().parent.parent
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
PASSWORD = "of-tests-only"
# Fixtures that put another database in the place of the one tests begin with.
STANDING = {"loaded_month", "small_books", "bare"}
# Those who are in the database that tests begin with, and their roles.
USUAL_PEOPLE = {f"test-{role}": role for role in ("staff", "manager", "officer", "administrator")}


def pytest_configure(config: pytest.Config) -> None:
    # Argon2 is slow by design, and no test is about its strength.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # The key of the commands that fill databases for tests: with another one the comparison that they kept bears no
    # mark of this program's own, and every test that stands in the month makes it anew.
    settings.SECRET_KEY = SECRET_KEY
    # A busy machine is no fault of what is tested: how long one example took says nothing here.
    hypothesis.settings.register_profile("unhurried", hypothesis.settings.default, deadline=None)
    hypothesis.settings.load_profile("unhurried")
    worker = os.environ.get("PYTEST_XDIST_WORKER", "")
    if not worker:
        os.environ[SHARED_FOLDER] = tempfile.mkdtemp(prefix="gaugebook-tests-")
    if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
        # Who wants nothing compiled beside the sources has it beside the site's data. Else every process of a run, and
        # every command that a test starts, compiles the whole program anew.
        sys.dont_write_bytecode = False
        sys.pycache_prefix = os.environ["PYTHONPYCACHEPREFIX"] = str(ROOT / ".site" / "bytecode")
    # `serve` collects style sheets there: one that starts must not take them from under another that serves.
    os.environ["LONG_WORK_FOLDER"] = str(shared_folder() / f"long-work{worker}")
    settings.LONG_WORK_FOLDER = shared_folder() / f"long-work{worker}"
    os.environ["STATIC_ROOT"] = str(shared_folder() / f"static{worker}")


def pytest_unconfigure(config: pytest.Config) -> None:
    if "PYTEST_XDIST_WORKER" not in os.environ and SHARED_FOLDER in os.environ:
        for made in shared_folder().glob("*.made"):
            Databases(shared_folder()).drop(made.read_text(encoding="utf-8"))
        shutil.rmtree(shared_folder(), ignore_errors=True)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    # The long ones begin first, so that no process is left alone with one at the end.
    items.sort(key=lambda item: item.get_closest_marker("long") is None)
    for item in further_values(items):
        item.add_marker(pytest.mark.further_value)
    for item in items:
        if is_engine_free(item.path):
            item.add_marker(pytest.mark.engine_free)
        if is_exhaustive(item.path):
            item.add_marker(pytest.mark.exhaustive)
        if item.path in EACH_ENGINE:
            item.add_marker(pytest.mark.each_engine)
        names = getattr(item, "fixturenames", None)
        if names is not None and item.get_closest_marker("own_clock") and not STANDING & set(names):
            # First of all, so that it stands before the transaction that the test runs in.
            names.insert(0, "bare")
        if STANDING & set(names or ()):
            item.add_marker(pytest.mark.django_db)
        if item.get_closest_marker("postgresql") and "postgresql" not in settings.DATABASES["default"]["ENGINE"]:
            item.add_marker(pytest.mark.skip(reason="needs PostgreSQL: name one in DATABASE_URL"))
        if item.get_closest_marker("sqlite") and "sqlite" not in settings.DATABASES["default"]["ENGINE"]:
            item.add_marker(pytest.mark.skip(reason="is about what SQLite alone does: leave out DATABASE_URL"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if _skipped_where_nothing_may_be(terminalreporter):
        terminalreporter.write_line("CI=true: no test may be skipped, so this run has failed.")


def pytest_sessionfinish(session: pytest.Session) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter and _skipped_where_nothing_may_be(reporter) and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def _skipped_where_nothing_may_be(reporter: pytest.TerminalReporter) -> bool:
    return os.environ.get("CI", "").lower() == "true" and bool(reporter.stats.get("skipped"))


@pytest.fixture(autouse=True)
def _engine_free(request: pytest.FixtureRequest) -> None:
    """What is not run again on PostgreSQL opens no database."""
    if request.node.get_closest_marker("engine_free"):
        forbid(request.getfixturevalue("monkeypatch"))


@pytest.fixture(autouse=True)
def _rules_read_afresh() -> Iterator[None]:
    """A figure that one test set and rolled back must not be remembered in the next."""
    from distillery.rules import in_force, stating

    in_force.let_go()
    # A process that serves reads the name of the site once a minute: here it has done so already, and none is entered.
    stating.remember([], until=math.inf)
    yield
    in_force.let_go()
    stating.let_go()


@pytest.fixture(scope="session")
def django_db_setup(django_test_environment, django_db_modify_db_settings, django_db_blocker) -> Iterator[None]:
    """The database that tests begin with, in place of pytest-django's: migrated, with books of 2027 and one person of
    each role. It is made once in the whole run; what every test would write first is there already.

    `django_db_modify_db_settings` gives each process that runs tests side by side a name of its own for it."""
    from django.core import management
    from django.test.utils import setup_databases, teardown_databases

    url = _with_people(django_db_blocker)
    usual = management.call_command

    def filled_from(name: str, *arguments: object, **options: object) -> object:
        connection = connections[DEFAULT_DB_ALIAS]
        if name != "migrate":
            return usual(name, *arguments, **options)
        if connection.vendor == "sqlite":
            connection.ensure_connection()
            with closing(sqlite3.connect(sqlite_file(url))) as original:
                original.backup(connection.connection)
        return None

    if connections[DEFAULT_DB_ALIAS].vendor == "postgresql":
        connections[DEFAULT_DB_ALIAS].settings_dict["TEST"]["TEMPLATE"] = urlsplit(url).path.lstrip("/")
    with django_db_blocker.unblock():
        management.call_command = filled_from
        try:
            made = setup_databases(verbosity=0, interactive=False, aliases={DEFAULT_DB_ALIAS})
        finally:
            management.call_command = usual
    yield
    with django_db_blocker.unblock():
        teardown_databases(made, verbosity=0)


def _with_people(django_db_blocker) -> str:
    """DATABASE_URL of the database that tests begin with."""
    from tests.people import somebody

    def people() -> None:
        for username, role in USUAL_PEOPLE.items():
            somebody(username, role, password=PASSWORD)

    def filled() -> str:
        url = filled_database("with_people", people, django_db_blocker)
        if url.startswith("sqlite"):
            with closing(sqlite3.connect(sqlite_file(url))) as database:
                # A database in memory takes in no other journal.
                database.execute("PRAGMA journal_mode=DELETE")
        return url

    return made_once(shared_folder(), "with_people", filled)


@pytest.fixture(autouse=True)
def _books_of_2027(request: pytest.FixtureRequest) -> Iterator[None]:
    """Books kept for practice, whose clock stands in May 2027; `own_clock` marks a test that goes by real time or sets
    the clock itself. The loaded month has a clock of its own."""
    from distillery.clock.models import BooksClock
    from distillery.clock.reading import let_go
    from distillery.clock.setting import days_until, set_clock

    let_go()
    names, marker = request.fixturenames, request.node.get_closest_marker("django_db")
    if (
        ("db" in names or (marker and not marker.kwargs.get("transaction")))
        and not {"loaded_month", "transactional_db"} & set(names)
        and not request.node.get_closest_marker("own_clock")
    ):
        request.getfixturevalue("db")
        # A test beside others that have the month loaded finds its clock there.
        if not BooksClock.objects.exists():
            set_clock(days_until(BOOKS_STAND_AT), why="tests write of 2027")
    yield
    let_go()


@pytest.fixture
def person_of(db: None) -> Callable[..., object]:
    """Makes a person with the roles named: person_of('mara', 'manager')."""
    from distillery.people.models import Person
    from tests.people import somebody

    def make(username: str, *roles: str) -> Person:
        # Where a filled database stands, people of the tests wrote in it and are there already.
        person = Person.objects.filter(username=username).first() or somebody(username, *roles, password=PASSWORD)
        assert person.groups.count() == len(roles), f"a role of {roles} is not there"
        return person

    return make


@pytest.fixture
def staff(person_of):
    return person_of("test-staff", "staff")


@pytest.fixture
def manager(person_of):
    return person_of("test-manager", "manager")


@pytest.fixture
def officer(person_of):
    return person_of("test-officer", "officer")


@pytest.fixture
def administrator(person_of):
    return person_of("test-administrator", "administrator")


@pytest.fixture
def stranger() -> Client:
    """A browser that nobody has signed on at."""
    return Client()


@pytest.fixture
def browser_of() -> Callable[[object], Client]:
    """A browser at which the person has signed on: browser_of(manager).get('/')."""

    def make(person) -> Client:
        client = Client()
        client.force_login(person)
        return client

    return make


@pytest.fixture(scope="session")
def chromium() -> str:
    """Where Chromium is: CHROMIUM names it, else it is looked for on the path."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
    if found and Path(found).exists():
        return found
    sentence = "Chromium is not on this computer: install it, or say where it is in CHROMIUM."
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(sentence)
    pytest.skip(sentence)
