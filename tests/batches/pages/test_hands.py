"""Whose hands an entry went through: read by, typed by, saved by and the PC, stored, sealed and shown."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from small_site import charged_run
from test_times_on_the_page import transfer

from batches.audit.exported import lines
from batches.guards import batches_guards
from batches.hands import COLUMNS
from batches.models import Reading, Record, Version
from batches.records.versions import digest_of, line_of_version
from distillery.clock.reading import books_now
from distillery.database import guards
from distillery.pen.hands import read_token, token_of
from distillery.pen.models import EnrolledPC
from distillery.seals.writing import written_by
from ledger.proof.proving import prove

pytestmark = pytest.mark.django_db
NEW = "/records/transfer/new/"


def saved(here, **more) -> Version:
    answer = here.post(NEW, transfer("now") | more)
    assert answer.status_code == 302, re.findall(r"field-error.*|<a href=\"#id.*", answer.content.decode())
    return Version.objects.get(record=Record.objects.get(kind="transfer"))


@pytest.fixture
def two(site, person_of):
    isla = person_of("isla", "manager")
    isla.first_name, isla.last_name = "Isla", "Venmore"
    with written_by(None, "tests"):
        isla.save()
    return site, isla


def test_what_one_person_reads_types_and_saves_says_nothing_more(site, browser_of):
    version = saved(browser_of(site), pen=token_of(site))
    assert [getattr(version, name) for name in COLUMNS] == [""] * len(COLUMNS)
    assert not set(COLUMNS) & json.loads(line_of_version(version, before="")).keys()


def test_all_three_and_the_pc_are_stored_sealed_and_shown(two, browser_of, person_of):
    site, isla = two
    jory = person_of("jory", "administrator")
    here = browser_of(isla)
    here.post("/site/pc/enrol/", {"name": "Still house PC", "place": "Still house"})
    assert EnrolledPC.objects.count() == 1
    version = saved(here, pen=token_of(site), read_by="Jory")
    assert (version.read_by, version.typed_by, version.person) == (jory.username, site.username, isla)
    assert version.pc == "Still house PC"
    content = json.loads(line_of_version(version, before=""))
    assert {name: content[name] for name in ("read_by", "typed_by", "pc")} == {
        "read_by": "jory",
        "typed_by": site.username,
        "pc": "Still house PC",
    }
    said = f"read by jory, typed by {site.shown_name}, at Still house PC"
    assert said in here.get(f"/records/transfer/{version.record.number}/").content.decode()
    assert not prove().broken


def test_both_who_typed_stand_where_both_did(two, browser_of):
    site, isla = two
    version = saved(browser_of(isla), pen=[token_of(site), token_of(isla)])
    assert version.typed_by == f"{site.username}, isla"


def test_nobody_can_say_that_another_typed(site, browser_of):
    version = saved(browser_of(site), pen=["isla", "isla:1tabc:forged", token_of(site)[:-1] + "x"])
    assert version.typed_by == ""


def test_a_page_left_open_for_days_is_not_believed(site):
    token = token_of(site)
    assert read_token(token) == site.username
    with time_machine.travel(datetime.now(UTC) + timedelta(hours=73)):
        assert read_token(token) == ""


@pytest.mark.parametrize("name", ["night shift", "nobody", "test"])
def test_a_reader_nobody_knows_is_asked_about_and_nothing_is_lost(name, site, browser_of):
    page = browser_of(site).post(NEW, transfer("now") | {"read_by": name}).content.decode()
    assert f"Nobody here is called {name}" in page
    assert f'name="read_by" value="{name}"' in page
    assert not Record.objects.filter(kind="transfer").exists()


def test_a_first_name_that_two_have_is_asked_about(two, browser_of, person_of):
    site, _ = two
    other = person_of("isla2", "staff")
    other.first_name = "Isla"
    with written_by(None, "tests"):
        other.save()
    page = browser_of(site).post(NEW, transfer("now") | {"read_by": "Isla"}).content.decode()
    assert "More than one is called Isla" in page


def test_a_page_that_comes_back_keeps_whose_hands_it_was_in(two, browser_of):
    site, isla = two
    token = token_of(site)
    page = browser_of(isla).post(NEW, transfer("now") | {"from_before_dip_mm": "x", "pen": token}).content.decode()
    assert f'name="pen" value="{token}"' in page
    assert f"Save: {site.username} typed, Isla saves" in page


def test_readings_say_it_too(two, browser_of):
    site, _ = two
    record = charged_run(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    at = books_now().strftime("%H:%M")
    asked = {"at": at, "distillate_percent": "70.1", "read_by": "isla", "answered": []}
    answer = browser_of(site).post(address, asked)
    while answer.status_code == 200:
        keys = re.findall(r'name="answered" value="([^"]*)"', answer.content.decode())
        assert keys != asked["answered"], answer.content.decode()
        asked["answered"] = keys
        answer = browser_of(site).post(address, asked)
    reading = Reading.objects.get()
    assert (reading.read_by, reading.typed_by, reading.person) == ("isla", "", site)
    assert "read by Isla Venmore" in browser_of(site).get(address).content.decode()


@pytest.mark.parametrize("name", COLUMNS)
def test_a_changed_hand_breaks_the_digest(name, two, browser_of):
    site, isla = two
    version = saved(browser_of(isla), pen=token_of(site), read_by=site.username)
    setattr(version, name, "somebody else")
    assert digest_of(version, before="") != version.digest


def test_the_proof_names_a_version_whose_hands_were_changed(two, browser_of):
    site, isla = two
    version = saved(browser_of(isla), pen=token_of(site))
    of_versions = [one for one in batches_guards(connection) if one.table == "batches_version"]
    guards.remove(connection, of_versions)
    Version.objects.filter(pk=version.pk).update(typed_by="")
    guards.install(connection, of_versions)
    assert any(version.record.number in sentence and "digest" in sentence for sentence in prove().broken)


def test_the_export_carries_them_and_its_verifier_finds_a_change(two, browser_of, tmp_path):
    site, isla = two
    saved(browser_of(isla), pen=token_of(site))
    assert any(json.loads(line)["content"].get("typed_by") == site.username for line in lines(0))
    call_command("export_ledger", tmp_path / "out")
    check = [sys.executable, "-I", "-S", str(tmp_path / "out" / "verify_export.py"), str(tmp_path / "out")]
    assert subprocess.run(check, capture_output=True, check=False).returncode == 0
    file = tmp_path / "out" / "versions.jsonl"
    file.write_text(file.read_text(encoding="utf-8").replace(f'"typed_by":"{site.username}"', '"typed_by":"isla"'))
    assert subprocess.run(check, capture_output=True, check=False).returncode != 0
