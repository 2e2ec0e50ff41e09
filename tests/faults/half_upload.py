"""Workbooks that arrive half: the browser goes away in the middle, the disk of the sender is at its end, a file is cut.

Whatever arrives, no page fails, nothing of it is in the books, and what broke off leaves no file and no work behind.
The whole workbook is taken afterwards. Run: `python -m tests.faults.half_upload --uploads 60`, on the engine that
DATABASE_URL names; SQLite if none. Bounded by its uploads; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import socket
import struct
import sys
import tempfile
from pathlib import Path
from urllib.parse import urlsplit

from tests.faults import looking, small_plant
from tests.faults.crew import Crew, Member
from tests.faults.scratch import kill, scratch_site, start

BOUNDARY = b"of-tests-only"
# Beyond what the framework keeps in memory, so that part of an upload lies on the disk when it breaks off.
PADDING = 3_000_000
LONGEST_ANSWER_S = 60
# Ending a connection with a reset, as a computer does that loses its network.
AT_ONCE = struct.pack("ii", 1, 0)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--uploads", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    dice, crew, wrong = random.Random(options.seed), Crew(), []
    broken = answered = 0
    with tempfile.TemporaryDirectory() as name, scratch_site() as url:
        results, temporary = Path(name) / "results", Path(name) / "temporary"
        temporary.mkdir()
        os.environ |= {"LONG_WORK_FOLDER": str(results), "TMPDIR": str(temporary)}
        path = _made_ready()
        from tests.faults.bad_input import facts

        process, address = start(url)
        try:
            crew.served_at(address)
            manager = Member(crew, options.seed)
            manager.sign_on()
            token = manager.form(path)["csrfmiddlewaretoken"]
            whole = _body(token, _workbook())
            padded = _body(token, _workbook() + dice.randbytes(PADDING))
            before = facts()
            for number in range(options.uploads):
                body = padded if number % 2 else whole
                cut = dice.randrange(len(body))
                if number % 3:
                    _breaks_off(manager, path, body, cut, reset=dice.random() < 0.5)
                    broken += 1
                else:
                    # All that was said to come has come, and it is not all there is.
                    status = _sent(manager, path, body[:cut])
                    answered += 1
                    if status not in (200, 302, 400, 403):
                        wrong.append(f"a body cut at {cut} of {len(body)} gave {status}")
            if _sent(manager, path, whole) != 302:
                wrong.append("the whole workbook was not taken afterwards")
            wrong += _left(results, temporary)
            after = facts()
            wrong += [f"{table} is not as it was" for table, was in before.items() if after[table] != was]
        finally:
            kill(process)
        wrong += [*crew.faults, *looking.proven()]
    print(f"{broken} uploads broken off, {answered} cut, nothing of them in the books.")
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or not broken else 0


def _made_ready() -> str:
    """Lets who is there bring workbooks in; gives the address of the page for it."""
    from django.contrib.auth.models import Group
    from django.urls import reverse

    from distillery.people.models import Person
    from distillery.people.roles import MANAGER
    from distillery.seals.writing import written_by

    person = Person.objects.get(username=small_plant.USERNAME)
    with written_by(person):
        person.groups.add(Group.objects.get(name=MANAGER))
    return reverse("bring_in")


def _workbook() -> bytes:
    from batches.loading.workbook.template import write_template

    made = io.BytesIO()
    write_template(made)
    return made.getvalue()


def _body(token: str, workbook: bytes) -> bytes:
    return b"".join(
        (
            b"--" + BOUNDARY + b'\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\n',
            token.encode() + b"\r\n--" + BOUNDARY,
            b'\r\nContent-Disposition: form-data; name="workbook"; filename="site.xlsx"',
            b"\r\nContent-Type: application/octet-stream\r\n\r\n" + workbook + b"\r\n--" + BOUNDARY + b"--\r\n",
        )
    )


def _opened(member: Member, path: str, length: int) -> socket.socket:
    parts = urlsplit(member.crew.address)
    one = socket.create_connection((str(parts.hostname), int(parts.port or 0)), timeout=LONGEST_ANSWER_S)
    cookies = "; ".join(f"{name}={value}" for name, value in member.cookies.items())
    head = (
        f"POST {path} HTTP/1.1\r\nHost: {parts.netloc}\r\nCookie: {cookies}\r\nConnection: close\r\n"
        f"Content-Type: multipart/form-data; boundary={BOUNDARY.decode()}\r\nContent-Length: {length}\r\n\r\n"
    )
    one.sendall(head.encode())
    return one


def _breaks_off(member: Member, path: str, body: bytes, cut: int, *, reset: bool) -> None:
    with _opened(member, path, len(body)) as one:
        one.sendall(body[:cut])
        if reset:
            one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, AT_ONCE)


def _sent(member: Member, path: str, body: bytes) -> int:
    with _opened(member, path, len(body)) as one:
        one.sendall(body)
        answer = one.recv(1000)
    return int(answer.split(b" ")[1]) if answer else 0


def _left(results: Path, temporary: Path) -> list[str]:
    """Files that no piece of work names, and pieces of work without their file."""
    from distillery.jobs.models import Job

    given = [json.loads(arguments) for arguments in Job.objects.values_list("arguments", flat=True)]
    asked = {one["workbook"] for one in given if "workbook" in one}
    kept = {file.stem for file in results.glob("*.xlsx")} if results.is_dir() else set()
    wrong = [f"{one} is kept, and no work asks for it" for one in kept - asked]
    wrong += [f"{one} is asked for, and not kept" for one in asked - kept]
    return wrong + [f"{file.name} was left in the folder for files that pass" for file in temporary.iterdir()]


if __name__ == "__main__":
    sys.exit(main())
