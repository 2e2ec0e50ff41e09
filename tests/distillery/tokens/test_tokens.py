"""Tokens: who makes them, that they are shown once, how they end, and that their rows stay as written."""

from __future__ import annotations

import re

import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse

from distillery.tokens import keeping
from distillery.tokens.models import ConsumerToken, TokenEnded, TokenUsed
from distillery.trail.models import Claim

pytestmark = pytest.mark.django_db
EVERYBODY = ("staff", "manager", "officer", "administrator")


@pytest.fixture(autouse=True)
def _noted_by_nobody():
    keeping._noted.clear()


@pytest.fixture
def here(browser_of, administrator):
    return browser_of(administrator)


def test_it_is_shown_once_and_kept_as_a_digest(here, administrator):
    answer = here.post(reverse("token_new"), {"name": "accounts  in the office"})
    [text] = re.findall(r'<dd class="code">([\w-]{43})</dd>', answer.content.decode())
    token = ConsumerToken.objects.get()
    assert (token.name, token.made_by) == ("accounts in the office", administrator)
    assert text not in str(vars(token))
    assert keeping.known_by(text) == token
    assert answer["Cache-Control"] == "no-store"
    assert text not in here.get(reverse("tokens")).content.decode()
    assert Claim.objects.order_by("pk").last().person == administrator


def test_two_that_stand_have_names_of_their_own(here, administrator):
    made = keeping.make(name="Accounts", person=administrator)
    answer = here.post(reverse("token_new"), {"name": "accounts"})
    assert answer.status_code == 400
    assert "accounts has a token already" in answer.content.decode()
    keeping.end(made.token, reason="lost", person=administrator)
    assert keeping.make(name="accounts", person=administrator).token.pk


@pytest.mark.parametrize(("name", "said"), [("", "This is blank"), ("x" * 61, "at most 60")])
def test_a_name_that_cannot_be(here, name, said):
    answer = here.post(reverse("token_new"), {"name": name})
    assert answer.status_code == 400
    assert said in answer.content.decode()
    assert not ConsumerToken.objects.exists()


def test_ended_with_a_reason_and_known_no_more(here, administrator):
    made = keeping.make(name="accounts", person=administrator)
    address = f"{reverse('token_end')}?token={made.token.pk}"
    assert "End the token of accounts" in here.get(address).content.decode()
    assert here.post(reverse("token_end"), {"token": made.token.pk, "reason": " "}).status_code == 400
    assert keeping.known_by(made.text) == made.token
    here.post(reverse("token_end"), {"token": made.token.pk, "reason": "the program was exchanged"})
    assert keeping.known_by(made.text) is None
    shown = here.get(reverse("tokens")).content.decode()
    assert "the program was exchanged" in shown
    assert "Ended" in shown
    again = here.post(reverse("token_end"), {"token": made.token.pk, "reason": "once more"})
    assert "was ended already" in again.content.decode()


def test_its_last_day_of_use_is_written_once_a_day(administrator, here):
    made = keeping.make(name="accounts", person=administrator)
    assert "never" in here.get(reverse("tokens")).content.decode()
    for _ in range(3):
        keeping.note_use(made.token)
        keeping._noted.clear()
    assert TokenUsed.objects.count() == 1
    assert "never" not in here.get(reverse("tokens")).content.decode()


def test_no_text_but_its_own_is_known(administrator):
    made = keeping.make(name="accounts", person=administrator)
    for text in ("", made.text[:-1], made.text.swapcase(), made.token.digest, "x" * 5000, "\x00"):
        assert keeping.known_by(text) is None


@pytest.mark.parametrize("role", EVERYBODY)
@pytest.mark.parametrize("route", ["tokens", "token_new", "token_end"])
def test_only_an_administrator(route, role, request, browser_of):
    answer = browser_of(request.getfixturevalue(role)).get(reverse(route))
    assert answer.status_code == (403 if role != "administrator" else 302 if route == "token_end" else 200)


@pytest.mark.parametrize("kind", [ConsumerToken, TokenEnded, TokenUsed])
def test_what_was_written_stays(kind, administrator):
    made = keeping.make(name="accounts", person=administrator)
    keeping.note_use(made.token)
    keeping.end(made.token, reason="lost", person=administrator)
    row = kind.objects.get()
    with pytest.raises(DatabaseError), transaction.atomic():
        kind.objects.filter(pk=row.pk).delete()
    with pytest.raises(DatabaseError), transaction.atomic():
        kind.objects.filter(pk=row.pk).update(id=row.pk + 1)
