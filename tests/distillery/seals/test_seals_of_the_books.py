"""One seal over everything: it covers what no movement's seal does; noted elsewhere, it tells what inside cannot.

What is hashed is hashed here again by its definition (SHA-256, FIPS 180-4). Changes and figures are invented.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, date
from decimal import Decimal

import pytest
from django.db import connection, models
from django.db.backends.base.base import BaseDatabaseWrapper

from batches.models import Reading, Version
from batches.records.versions import digest_of
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.metrology import Certificate
from distillery.plant.models import Instrument, Vessel
from distillery.rules.setting.figures import add_loss_cause
from distillery.seals.entries import entries
from distillery.seals.lookup import last_seal
from distillery.seals.models import BooksSeal
from distillery.trail.models import Claim, Entry
from ledger.enquiries.models import Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import add, hold
from ledger.models import Movement
from ledger.posting.turns import turn
from ledger.proof.noted import look_for
from ledger.proof.proving import prove
from tests.faults import forging
from tests.ready_databases import FilledOnce, standing_in

pytestmark = pytest.mark.django_db


def newest() -> BooksSeal:
    found = last_seal()
    assert found is not None
    return found


def a_certificate(person: Person | None = None) -> Certificate:
    return keeping.add_certificate(
        instrument=Instrument.objects.get(code="ALC"),
        number="C-17",
        issuer="an invented laboratory",
        issued_on=date(2027, 2, 1),
        from_day=date(2027, 2, 1),
        standard_uncertainty=Decimal("0.05"),
        person=person,
    )


def a_mash() -> models.Model:
    version = Version.objects.filter(record__kind="mash").order_by("pk").first()
    assert version is not None
    assert not Movement.objects.filter(record_kind="mash").exists(), "a mash hangs on no movement"
    values = json.loads(version.values)
    version.values = json.dumps({**values, "grist_kg": "1999"}, sort_keys=True, separators=(",", ":"))
    version.digest = digest_of(version, before="")
    version.save()
    return version


def a_reading() -> models.Model:
    reading = Reading.objects.order_by("pk").first()
    assert reading is not None
    reading.value += "1"
    reading.save()
    return reading


def an_answer() -> models.Model:
    event = EnquiryEvent.objects.order_by("pk").last()
    assert event is not None
    event.text = "another answer"
    event.save()
    return event


def the_certificate() -> models.Model:
    certificate = Certificate.objects.get()
    certificate.standard_uncertainty_millionths = 1
    certificate.save()
    return certificate


def _write_on() -> None:
    a_certificate()
    with turn():
        add(hold(Enquiry.objects.order_by("pk")[0]), What.NOTE, person=None, text="the dip was read twice")
    assert prove().broken == []


@pytest.fixture(scope="module")
def _written_on(filled_once: FilledOnce) -> BaseDatabaseWrapper:
    return filled_once("month_written_on", _write_on, on_the_month=True)


@pytest.fixture(scope="class")
def _written_on_stands(_written_on: BaseDatabaseWrapper) -> Iterator[None]:
    with standing_in(_written_on):
        yield


@pytest.fixture
def books(_written_on_stands: None) -> BooksSeal:
    """The sample month with an answer and a certificate written since; gives the seal that somebody noted then."""
    return newest()


def test_each_piece_of_writing_is_sealed_once_over_all_chains(books: BooksSeal) -> None:
    before = newest()
    add_loss_cause(name="frost", from_day=date(2027, 1, 1), source="invented")
    after = newest()
    assert after.number == before.number + 1
    assert after.previous_seal == before.seal
    digest = forging.NOTHING_BEFORE
    for row in entries(upto=after.entry):
        digest = forging.digest(digest, list(row))
    end = Movement.objects.order_by("pk").last()
    assert end is not None
    made_at = after.made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    said = {"number": after.number, "made_at": made_at, "movements": [end.pk, end.seal], "trail": [after.entry, digest]}
    assert forging.digest(before.seal, said) == after.seal
    assert Entry.objects.order_by("pk").values_list("pk", flat=True).last() == after.entry


def test_what_nobody_wrote_anew_makes_no_seal(books: BooksSeal) -> None:
    with turn():
        pass
    assert newest() == books


@pytest.mark.parametrize("change", [a_mash, a_reading, an_answer, the_certificate])
def test_what_hangs_on_no_movement_is_covered_even_where_its_trail_and_digest_fit(books: BooksSeal, change) -> None:
    forging.take_the_triggers_away()
    forging.make_the_trail_fit(change())
    said = [place for place in prove().broken if "trigger" not in place]
    assert any("the trail up to it is not what was sealed" in place for place in said)


@pytest.mark.parametrize("change", [a_mash, a_reading, an_answer, the_certificate])
def test_who_writes_every_seal_again_is_found_by_one_seal_noted_before(books: BooksSeal, change) -> None:
    forging.take_the_triggers_away()
    forging.make_the_trail_fit(change())
    forging.make_the_seals_fit()
    assert not [place for place in prove().broken if "seal" in place], "inside, nothing tells"
    assert look_for(books.seal).stands is False
    assert "written again" in look_for(books.seal[:16]).sentence


def test_a_tail_taken_off_with_its_seals_is_found_by_a_noted_seal(books: BooksSeal) -> None:
    add_loss_cause(name="frost", from_day=date(2027, 1, 1), source="invented")
    noted = newest()
    forging.take_the_triggers_away()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM rules_losscause WHERE name = 'frost'")
        cursor.execute("DELETE FROM rules_entered")
        cursor.execute("DELETE FROM trail_claim WHERE first > %s", [books.entry])
        cursor.execute("DELETE FROM trail_entry WHERE id > %s", [books.entry])
        cursor.execute("DELETE FROM seals_booksseal WHERE number > %s", [books.number])
    assert not [place for place in prove().broken if "trigger" not in place], "inside, nothing tells"
    assert look_for(books.seal).stands is True
    missing = look_for(noted.seal)
    assert (missing.stands, f"last seal is {books.number}" in missing.sentence) == (False, True)


def test_what_is_written_past_the_program_is_named_though_every_trigger_stands(books: BooksSeal) -> None:
    vessel = Vessel.objects.order_by("pk")[0]
    with connection.cursor() as cursor:
        cursor.execute("UPDATE plant_vessel SET name = 'another' WHERE id = %s", [vessel.pk])
        cursor.execute(
            "INSERT INTO rules_losscause (name, from_day, source) VALUES ('angels', '2027-01-01', 'by hand')"
        )
    said = [place for place in prove().broken if "past the program" in place]
    assert len(said) == 2
    assert said[0].startswith(f"plant_vessel {vessel.pk}:")
    assert said[1].startswith("rules_losscause")
    # Writing that follows does not take the name of what was slipped in before it.
    add_loss_cause(name="frost", from_day=date(2027, 1, 1), source="invented")
    assert [place for place in prove().broken if "past the program" in place] == said


def test_every_entry_of_the_loaded_month_is_claimed(books: BooksSeal) -> None:
    first = Entry.objects.order_by("pk")[0].pk
    assert Claim.objects.filter(first__lte=first, last__gte=first).exists()
    assert prove().broken == []


def test_a_claim_names_the_person_claim_of(books: BooksSeal, manager: Person) -> None:
    keeping.add_obscuration(
        vessel=Vessel.objects.order_by("pk")[0],
        from_at=books.made_at,
        percent=Decimal("0.1"),
        standard_uncertainty=Decimal("0.05"),
        determined_on=date(2027, 3, 1),
        source="invented",
        person=manager,
    )
    entry = Entry.objects.filter(table="plant_obscurationfound").latest("pk")
    claim = Claim.objects.get(first__lte=entry.pk, last__gte=entry.pk)
    assert (claim.person, claim.way) == (manager, "plant")


def test_a_claim_by_hand_does_not_make_a_gap_in_the_seals_good(books: BooksSeal) -> None:
    forging.take_the_triggers_away()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM seals_booksseal WHERE number = %s", [books.number - 1])
    assert any(f"seal {books.number - 1} is missing before it" in place for place in prove().broken)


@pytest.mark.parametrize("column", ["made_at", "movement", "movement_seal", "entry", "entry_digest", "previous_seal"])
def test_no_value_of_a_seal_is_changed_unseen(books: BooksSeal, column: str) -> None:
    forging.take_the_triggers_away()
    value = getattr(books, column)
    other = {"made_at": lambda: value.replace(year=2020), "movement": lambda: value - 1, "entry": lambda: value - 1}
    setattr(books, column, other.get(column, lambda: "e" * 64)())
    books.save()
    assert any(f"seal {books.number} of the books" in place for place in prove().broken)


def test_a_seal_of_a_movement_is_found_with_its_day(books: BooksSeal) -> None:
    movement = Movement.objects.order_by("pk")[10]
    found = look_for(movement.seal[:12])
    assert found.stands
    assert f"movement {movement.pk}" in found.sentence
