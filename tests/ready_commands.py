"""The site's commands without the half second each takes to start: a process that has everything imported, and forks.

Every command still runs in a process of its own that ends with it. It is given its environment and reads the settings
anew, as `manage.py` does; the process it is forked from has opened no database, made no check and run no command.
Where there is no fork (Windows), where two run at a time, and where a test is about how a process starts
(`running_site.run_alone`), `manage.py` is started as a person would.
"""

from __future__ import annotations

import atexit
import gc
import json
import os
import select
import subprocess
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import IO, NoReturn

ROOT = Path(__file__).resolve().parent.parent
OUTPUT, ERRORS = "output", "errors"


class ReadyProcess:
    """The process that forks, started when it is first asked; it does one command at a time."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._one_at_a_time = threading.Lock()

    def run(
        self, argv: list[str], environment: dict[str, str], longest_s: float
    ) -> subprocess.CompletedProcess[str] | None:
        """What a command printed and its exit status; None where it cannot be run here now.

        Raises subprocess.TimeoutExpired.
        """
        if not hasattr(os, "fork") or not self._one_at_a_time.acquire(blocking=False):
            return None
        try:
            with tempfile.TemporaryDirectory(prefix="gaugebook-command-") as folder:
                status = self._status(argv, environment, longest_s, Path(folder))
                said = (Path(folder, name).read_text() for name in (OUTPUT, ERRORS))
                return subprocess.CompletedProcess(argv, status, *said)
        finally:
            self._one_at_a_time.release()

    @staticmethod
    def end(process: subprocess.Popen[bytes]) -> None:
        """Ends the process, which has nothing to do once nobody asks it any more."""
        assert process.stdin is not None
        process.stdin.close()
        process.wait()

    def _status(self, argv: list[str], environment: dict[str, str], longest_s: float, folder: Path) -> int:
        if self._process is None or self._process.poll() is not None:
            self._process = subprocess.Popen(
                [sys.executable, "-m", __name__],
                cwd=ROOT,
                # A command that is to fail may be asked for first, with a database that cannot be.
                env={**environment, "DATABASE_URL": "sqlite:///:memory:"},
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                bufsize=0,
            )
            atexit.register(self.end, self._process)
        process = self._process
        assert process.stdin is not None
        assert process.stdout is not None
        asked = {"argv": argv, "environment": environment, "cwd": os.getcwd(), "folder": str(folder)}
        process.stdin.write(json.dumps(asked).encode() + b"\n")
        told, _, _ = select.select([process.stdout], [], [], longest_s)
        if not told:
            process.kill()
            raise subprocess.TimeoutExpired(argv, longest_s)
        answer = process.stdout.readline()
        assert answer, "The process that has the commands ready has ended."
        return int(answer)


def _get_ready() -> None:
    """Imports what the commands import, under the environment it was started with."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    import importlib

    import django
    from django.core.management import get_commands

    django.setup()
    importlib.import_module("distillery.urls")
    for name, app in get_commands().items():
        if app in ("distillery", "ledger", "batches"):
            importlib.import_module(f"{app}.management.commands.{name}")


def _forget_settings() -> None:
    """As if nothing had been read from the environment yet."""
    from django.conf import settings
    from django.db import connections
    from django.utils import timezone
    from django.utils.functional import empty

    sys.modules.pop("distillery.settings", None)
    settings._wrapped = empty
    for alias in connections.all(initialized_only=True):
        del connections[alias.alias]
    vars(connections).pop("settings", None)
    connections._settings = None  # type: ignore[attr-defined]
    timezone.get_default_timezone.cache_clear()


def _become(asked: dict[str, object]) -> list[str]:
    """Makes this process the one that was asked for; gives what it is to be called with."""
    folder = Path(str(asked["folder"]))
    nothing = os.open(os.devnull, os.O_RDONLY)
    output, errors = (
        os.open(folder / name, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600) for name in (OUTPUT, ERRORS)
    )
    for descriptor, place in ((nothing, 0), (output, 1), (errors, 2)):
        os.dup2(descriptor, place)
        os.close(descriptor)
    os.environ.clear()
    os.environ.update(asked["environment"])  # type: ignore[call-overload]
    os.chdir(str(asked["cwd"]))
    _forget_settings()
    return [str(one) for one in asked["argv"]]  # type: ignore[attr-defined]


def _next(questions: IO[bytes], answers: int) -> list[str] | None:
    """In each process that is forked, what it is to be called with; None in the first, once nobody asks any more."""
    for line in iter(questions.readline, b""):
        pid = os.fork()
        if not pid:
            os.close(answers)
            return _become(json.loads(line))
        _, status = os.waitpid(pid, 0)
        os.write(answers, f"{os.waitstatus_to_exitcode(status)}\n".encode())
    return None


def _end_with(call: Callable[[], None]) -> NoReturn:
    """Ends as Python does, but for taking apart what was imported, which takes longer than most commands."""
    status: object = 0
    try:
        call()
    except SystemExit as ending:
        status = ending.code
    except BaseException:
        traceback.print_exc()
        status = 1
    if not isinstance(status, int | None):
        print(status, file=sys.stderr)
        status = 1
    threading._shutdown()  # type: ignore[attr-defined]
    atexit._run_exitfuncs()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status or 0)


def main() -> None:
    answers = os.dup(1)
    # What an import prints is no answer.
    os.dup2(2, 1)
    _get_ready()
    # What is there is shared by all that are forked, and is not gone through again in search of what to throw away.
    gc.collect()
    gc.freeze()
    argv = _next(os.fdopen(os.dup(0), "rb", buffering=0), answers)
    if argv is not None:
        import manage

        sys.argv = argv
        _end_with(manage.main)


if __name__ == "__main__":
    main()
