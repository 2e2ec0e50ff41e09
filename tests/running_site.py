"""Runs the site's own commands as a person would: each in its own process, on a database made for the purpose."""

from __future__ import annotations

import os
import queue
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from types import MappingProxyType
from urllib.parse import urlsplit, urlunsplit

from tests.ready_commands import ReadyProcess

ROOT = Path(__file__).resolve().parent.parent
MANAGE = [sys.executable, str(ROOT / "manage.py")]
LONGEST_COMMAND_S = 300
SECRET_KEY = "of-tests-only-and-never-of-a-site-in-earnest"
LONGEST_START_S = 60
LONGEST_END_S = 10
READY = ReadyProcess()


def environment(database_url: str, **more: str) -> dict[str, str]:
    fixed = {"DATABASE_URL": database_url, "SECRET_KEY": SECRET_KEY, "PYTHONUNBUFFERED": "1", "KEEPS_COPIES": "false"}
    return {**os.environ, **fixed, **more}


def run(database_url: str, *arguments: str | Path, **more: str) -> subprocess.CompletedProcess[str]:
    """Runs one command to its end, in a process of its own, and gives what it printed and its exit status."""
    argv = [MANAGE[1], *map(str, arguments)]
    # How Python itself starts is said to a process before it starts.
    about_python = any(name.startswith("PYTHON") for name in more)
    done = None if about_python else READY.run(argv, environment(database_url, **more), LONGEST_COMMAND_S)
    return done or run_alone(database_url, *arguments, **more)


def run_alone(database_url: str, *arguments: str | Path, **more: str) -> subprocess.CompletedProcess[str]:
    """As `run`, with `manage.py` started as a person would."""
    return subprocess.run(
        [*MANAGE, *map(str, arguments)],
        env=environment(database_url, **more),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LONGEST_COMMAND_S,
        check=False,
    )


@contextmanager
def serving(database_url: str, *arguments: str, **settings: str) -> Iterator[str]:
    """Starts `serve` on a free port, gives its address once it says that it serves, and ends it by its id. `settings`
    stand in its environment."""
    with serving_process(database_url, *arguments, settings=settings) as (_, address):
        yield address


@contextmanager
def serving_process(
    database_url: str,
    *arguments: str,
    command: Sequence[str] = MANAGE,
    folder: Path = ROOT,
    console: list[str] | None = None,
    settings: Mapping[str, str] = MappingProxyType({}),
) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """As `serving`, with the process. `command` is what runs the site's commands, in `folder`.

    What the server says is added to `console`, line by line.
    """
    process = subprocess.Popen(
        [*command, "serve", "--port", "0", *arguments],
        env=environment(database_url, **settings),
        cwd=folder,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        yield process, _address(process, console)
    finally:
        process.terminate()
        try:
            process.wait(LONGEST_END_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        assert process.stdout is not None
        process.stdout.close()


def execute(database_url: str, *statements: str) -> None:
    """Says something to the database behind the program's back."""
    if database_url.startswith("sqlite"):
        with closing(sqlite3.connect(sqlite_file(database_url))) as database, database:
            for statement in statements:
                database.execute(statement)
        return
    import psycopg

    with psycopg.connect(database_url, autocommit=True) as server:
        for statement in statements:
            server.execute(statement)


def sqlite_file(database_url: str) -> Path:
    return Path(database_url.removeprefix("sqlite:///"))


def _address(process: subprocess.Popen[str], console: list[str] | None) -> str:
    lines: queue.Queue[str] = queue.Queue()

    def read() -> None:
        assert process.stdout is not None
        # Kept running to the end, so that the server never waits for somebody to read what it writes.
        for line in process.stdout:
            if console is not None:
                console.append(line)
            lines.put(line)

    threading.Thread(target=read, daemon=True).start()
    said: list[str] = []
    deadline = time.monotonic() + LONGEST_START_S
    while time.monotonic() < deadline and (process.poll() is None or not lines.empty()):
        try:
            said.append(lines.get(timeout=0.2))
        except queue.Empty:
            continue
        if said[-1].startswith("Serving at "):
            return said[-1].split()[2].rstrip("/")
    raise AssertionError("The server did not start. It said:\n" + "".join(said))


class Databases:
    """Empty databases on the engine under test; `close` drops them."""

    def __init__(self, folder: Path, label: str = "scratch") -> None:
        self.folder = folder
        self.label = label
        self.server = os.environ.get("DATABASE_URL", "")
        self.made: list[str] = []

    @property
    def on_sqlite(self) -> bool:
        return not self.server.startswith("postgres")

    def new(self) -> str:
        """Makes an empty one and gives the DATABASE_URL that names it."""
        name = self._name()
        if self.on_sqlite:
            return f"sqlite:///{self.folder / name}.sqlite3"
        self._tell(f"CREATE DATABASE {name}")
        return urlunsplit(urlsplit(self.server)._replace(path=f"/{name}"))

    def copy_of(self, database_url: str) -> str:
        """Makes one that holds what another holds, which nobody may be using at the time."""
        name = self._name()
        if self.on_sqlite:
            file = self.folder / f"{name}.sqlite3"
            with closing(sqlite3.connect(sqlite_file(database_url))) as original:
                original.execute("VACUUM INTO ?", [str(file)])
            with closing(sqlite3.connect(file)) as copy:
                # As in a site at work: a database that is read while somebody writes.
                copy.execute("PRAGMA journal_mode=WAL")
            return f"sqlite:///{file}"
        self._tell(f"CREATE DATABASE {name} TEMPLATE {urlsplit(database_url).path.lstrip('/')}")
        return urlunsplit(urlsplit(self.server)._replace(path=f"/{name}"))

    def _name(self) -> str:
        name = f"{self.label}_{os.getpid()}_{len(self.made)}"
        self.made.append(name)
        return name

    def close(self) -> None:
        if not self.on_sqlite:
            for name in self.made:
                self._drop(name)

    def drop(self, database_url: str) -> None:
        """Drops one that another process has made; a file stays where it is."""
        if not self.on_sqlite:
            self._drop(urlsplit(database_url).path.lstrip("/"))

    def _drop(self, name: str) -> None:
        self._tell(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")

    def _tell(self, statement: str) -> None:
        import psycopg

        with psycopg.connect(self.server, autocommit=True) as server:
            server.execute(statement)
