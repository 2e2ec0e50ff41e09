"""The first manager: made once, at the server's own computer, by whoever reads the code on its console."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import reverse

from distillery.first_run import code
from distillery.people.changes import PersonChange
from distillery.people.keeping import Unchangeable, add_first_manager
from distillery.people.models import Person
from distillery.seals.writing import written_by

pytestmark = pytest.mark.django_db
WHO = {"first_name": "Rowan", "last_name": "Alder", "username": "r.alder"}
PASSWORDS = {"password": "three-quiet-stills", "password_again": "three-quiet-stills"}


@pytest.fixture(autouse=True)
def _nobody_yet() -> None:
    """The people whom all other tests begin with are not there."""
    with written_by(None, "tests"):
        Person.objects.all().delete()


@pytest.fixture
def printed() -> Iterator[str]:
    """The code as the console has it."""
    yield code.make()
    code.forget()


def test_whoever_has_the_code_is_the_first_manager_and_signed_on(printed: str, stranger: Client) -> None:
    assert stranger.get(reverse("login"))["Location"] == reverse("first_run")
    made = stranger.post(reverse("first_run"), {"code": f" {printed} ", **WHO, **PASSWORDS})
    assert made["Location"] == reverse("first_month")
    person = Person.objects.get()
    assert list(person.groups.values_list("name", flat=True)) == ["manager"]
    change = PersonChange.objects.get()
    assert (change.person, change.by, change.what) == (person, None, PersonChange.What.MADE)
    page = stranger.get(reverse("first_month")).content.decode()
    assert "Rowan Alder is the first manager" in page
    # Once only, by page or service.
    assert not code.is_waiting()
    assert Client().get(reverse("first_run"))["Location"] == reverse("login")
    with pytest.raises(Unchangeable, match="Somebody is on the site already"):
        add_first_manager(username="s.birch", first_name="S", last_name="Birch", password="nine-warm-washbacks")


def test_a_wrong_code_makes_nobody_and_ten_of_them_end_it(printed: str, stranger: Client) -> None:
    wrong = "0000 0000 0000" if printed != "0000 0000 0000" else "1111 1111 1111"
    for _ in range(code.MOST_TRIES):
        page = stranger.post(reverse("first_run"), {"code": wrong, **WHO, **PASSWORDS})
        assert page.status_code == 200
    right = stranger.post(reverse("first_run"), {"code": printed, **WHO, **PASSWORDS})
    assert "No code works any more" in right.content.decode()
    assert not Person.objects.exists()


@pytest.mark.parametrize("more", [{"REMOTE_ADDR": "192.0.2.7"}, {"HTTP_X_FORWARDED_FOR": "192.0.2.7"}])
def test_from_elsewhere_nobody_is_first_even_with_the_code(printed: str, more: dict[str, str]) -> None:
    # 192.0.2.0/24 is for documentation (RFC 5737).
    elsewhere = Client(**more)
    answer = elsewhere.post(reverse("first_run"), {"code": printed, **WHO, **PASSWORDS})
    assert answer.status_code == 403
    assert "at the computer on which the server runs" in answer.content.decode()
    assert not Person.objects.exists()
    assert elsewhere.get(reverse("login")).status_code == 200


def test_passwords_are_held_to_what_holds_of_all(printed: str, stranger: Client) -> None:
    for password, again, said in (
        ("password", "password", "too common"),
        ("three-quiet-stills", "three-quiet-still", "not the same"),
    ):
        page = stranger.post(
            reverse("first_run"), {"code": printed, **WHO, "password": password, "password_again": again}
        )
        assert said in page.content.decode()
    assert code.is_waiting()
    assert not Person.objects.exists()
