"""A digest that went out on paper is known by the register of prints, and what is other now is named."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.records import recording
from distillery.people.models import Person
from distillery.prints import register
from distillery.prints.models import Print
from distillery.seals.models import BooksSeal
from distillery.trail.models import Entry
from ledger.models import Movement
from ledger.proof.proving import prove

RECORD, BESIDE = "/records/spirit_run/SR0007/record.pdf", "/records/spirit_run/SR0008/record.pdf"
ACCOUNT, LOSSES = "/books/months/2027-03/account.pdf", "/books/losses/2027-03/register.pdf"
RETURN, CASK = "/books/returns/2027-03/figures.pdf", "/casks/2022/0001/cask.pdf"
TRACE, MOVEMENTS = "/trace/trace.pdf?ref=BO0001", "/books/movements/?as=pdf"
IN_FULL = re.compile(r"Digest of the data \(SHA-256\), [0-9a-f ]{19} in short: ([0-9a-f ]+)\.")


def printed(browser: Client, address: str) -> str:
    """The digest in full, as it stands on the paper that an address gives."""
    answer = browser.get(address)
    assert answer.status_code == 200
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    found = IN_FULL.search(re.sub(r"\s+", " ", text))
    assert found is not None
    return found[1].replace(" ", "")


def asked(*typed: str) -> dict[str, Any]:
    """What the command says."""
    out = io.StringIO()
    call_command("check_digest", *typed, "--json", stdout=out)
    said: dict[str, Any] = json.loads(out.getvalue())
    return said


@pytest.fixture
def reader(officer: Person, browser_of: Callable[[Person], Client]) -> Client:
    return browser_of(officer)


class TestADigest:
    def test_is_known_short_and_in_full_with_what_it_was_printed_on(self, loaded_month, reader: Client) -> None:
        digest = printed(reader, LOSSES)
        for typed in ((digest,), (digest[:16],), (digest[:4], digest[4:8], digest[8:12], digest[12:16])):
            said = asked(*typed)
            assert (said["known"], said["stands"], said["changed"]) == (True, True, [])
            assert said["document"].startswith("Loss register")
            assert said["version"] == 1

    def test_after_a_correction_the_right_ones_are_other_and_name_what(
        self, loaded_month, reader: Client, staff: Person
    ) -> None:
        places = (RECORD, BESIDE, ACCOUNT, LOSSES, RETURN, CASK, TRACE, MOVEMENTS)
        digests = {address: printed(reader, address) for address in places}
        record = recording.Record.objects.get(number="SR0007")
        recording.correct(record, {"spent_lees_litres": "1"}, person=staff, reason="read anew")
        said = {address: asked(digest) for address, digest in digests.items()}
        assert all(one["known"] for one in said.values())
        apart = {address for address, one in said.items() if not one["stands"]}
        # More spent lees leave less unexplained: the run, its month and what is listed of it; no other run, no cask.
        assert apart == {RECORD, ACCOUNT, LOSSES, RETURN, MOVEMENTS}
        assert "corrections" in said[RECORD]["changed"]
        assert {"losses", "differences"} <= set(said[ACCOUNT]["changed"])
        assert "removals" not in said[ACCOUNT]["changed"]

    def test_that_nobody_printed_is_unknown(self, loaded_month) -> None:
        said = asked("0123456789abcdef")
        assert (said["known"], said["document"], said["stands"], said["changed"]) == (False, "", False, [])
        assert said["one_slip_from"] == []

    def test_that_cannot_be_one_is_refused(self, loaded_month) -> None:
        with pytest.raises(CommandError, match="at least 8"):
            asked("9f3c")


class TestASlip:
    def test_is_told_from_what_is_unknown(self, loaded_month, reader: Client) -> None:
        digest = printed(reader, LOSSES)
        other = "0" if digest[5] != "0" else "1"
        turned = next(at for at in range(15) if digest[at] != digest[at + 1])
        for typed in (
            digest[:5] + other + digest[6:16],
            digest[:40] + ("0" if digest[40] != "0" else "1") + digest[41:],
            digest[:turned] + digest[turned + 1] + digest[turned] + digest[turned + 2 : 16],
            digest[:5] + digest[6:16],
            digest[:5] + other + digest[5:16],
        ):
            said = asked(typed)
            assert not said["known"]
            assert [one["digest"] for one in said["one_slip_from"]] == [digest], typed
        page = reader.get(reverse("check_digest"), {"digest": digest[:5] + other + digest[6:16]}).content.decode()
        assert "Not known as typed; perhaps" in page
        assert "Loss register" in page
        assert "No such digest" not in page

    def test_of_two_figures_is_unknown(self, loaded_month) -> None:
        seal = Movement.objects.get(pk=100).seal
        wrong = [("0" if seal[at] != "0" else "1") for at in (3, 9)]
        assert asked(seal[:3] + wrong[0] + seal[4:9] + wrong[1] + seal[10:16])["one_slip_from"] == []
        said = asked(seal[:3] + wrong[0] + seal[4:16])
        assert said["one_slip_from"][0]["document"].startswith("Movement 100")


class TestTheRegister:
    def test_says_who_printed_what_and_is_sealed(self, loaded_month, reader: Client, officer: Person) -> None:
        seals = BooksSeal.objects.count()
        digest = printed(reader, ACCOUNT)
        one = Print.objects.get()
        assert (one.digest, one.number, one.by, one.address) == (digest, "MS-2027-03", officer, ACCOUNT)
        assert "removals" in json.loads(one.parts)
        assert BooksSeal.objects.count() == seals + 1
        assert Entry.objects.filter(table="prints_print").count() == 1
        assert prove().places == []

    def test_keeps_what_was_written(self, loaded_month, reader: Client) -> None:
        printed(reader, ACCOUNT)
        with pytest.raises(DatabaseError):
            Print.objects.update(number="MS-2027-04")

    def test_looking_at_a_digest_prints_nothing(self, loaded_month, reader: Client) -> None:
        digest = printed(reader, ACCOUNT)
        reader.get(reverse("check_digest"), {"digest": digest})
        reader.get(reverse("month", args=["2027-03"]))
        assert Print.objects.count() == 1

    def test_a_stranger_and_whoever_may_not_read_leave_nothing_in_it(self, loaded_month, stranger: Client) -> None:
        assert stranger.get(ACCOUNT).status_code == 302
        assert not Print.objects.exists()

    def test_that_cannot_be_written_costs_no_print(
        self, loaded_month, reader: Client, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*_given: object, **_more: object) -> None:
            raise DatabaseError("the disk is full")

        monkeypatch.setattr(register, "_save", refuse)
        assert printed(reader, ACCOUNT)
        assert not Print.objects.exists()

    def test_knows_what_the_command_prints(self, loaded_month, tmp_path: Path, officer: Person) -> None:
        call_command("month_account", "2027-03", "--pdf", str(tmp_path / "account.pdf"))
        one = Print.objects.get()
        said = asked(one.digest[:16])
        assert (said["known"], said["stands"]) == (True, True)
        assert "by the command line" in said["says"]
