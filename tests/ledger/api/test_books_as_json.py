"""What other programs read: figures of the pages, pages by key, and a sentence for every refusal."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from openapi_spec_validator import validate

from distillery.plant.models import MICRO
from distillery.tokens import keeping
from distillery.tokens.models import TokenUsed
from ledger.api import waiting
from ledger.models import Balance, Leg, Movement
from ledger.periods.models import Closing
from ledger.statements.month import month_account

PERIOD = "2027-03"


@pytest.fixture(autouse=True)
def _nobody_waits():
    waiting.asked.forget()
    waiting.wrong.forget()
    keeping._noted.clear()


@pytest.fixture
def token(administrator) -> str:
    return keeping.make(name="accounts", person=administrator).text


def ask(token: str, address: str, **asked: object) -> Any:
    answer = Client().get(f"/api/{address}", asked, headers={"Authorization": f"Bearer {token}"})
    assert answer["Content-Type"].startswith("application/json")
    assert answer["Cache-Control"] == "no-store"
    assert not answer.cookies
    return answer


@pytest.mark.django_db
class TestRefused:
    def sentence(self, answer, status: int) -> str:
        assert answer.status_code == status
        assert list(answer.json()) == ["error"]
        return str(answer.json()["error"])

    def test_without_a_token_and_with_a_wrong_one(self):
        assert "Authorization: Bearer" in self.sentence(Client().get("/api/balances"), 401)
        wrong = ask("x" * 43, "balances")
        assert "not known here" in self.sentence(wrong, 401)
        assert wrong["WWW-Authenticate"].startswith("Bearer")

    def test_a_session_is_no_token(self, browser_of, manager):
        assert browser_of(manager).get("/api/balances").status_code == 401

    def test_an_ended_token(self, token, administrator):
        keeping.end(keeping.known_by(token), reason="lost", person=administrator)
        assert "ended" in self.sentence(ask(token, "balances"), 401)

    def test_wrong_tokens_wait(self, token):
        for _ in range(waiting.MOST_WRONG):
            ask("wrong", "balances")
        answer = ask(token, "balances")
        assert "Ask again in" in self.sentence(answer, 429)
        assert 0 < int(answer["Retry-After"]) <= 60

    def test_asking_too_often_waits(self, token, monkeypatch):
        monkeypatch.setattr(waiting.asked, "_most", 3)
        assert [ask(token, "months").status_code for _ in range(4)] == [200, 200, 200, 429]

    @pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
    def test_nothing_but_reading(self, token, method):
        answer = getattr(Client(enforce_csrf_checks=True), method)(
            "/api/balances", headers={"Authorization": f"Bearer {token}"}
        )
        assert "read only" in self.sentence(answer, 405)

    @pytest.mark.parametrize("address", ["", "balance", "balances/", "months/2027-03/x", "docs", "../books/"])
    def test_no_such_address(self, token, address):
        assert "no such address" in self.sentence(ask(token, address), 404)

    def test_a_character_that_no_text_holds(self, token):
        answer = Client().get("/api/months/%00", headers={"Authorization": f"Bearer {token}"})
        assert "NUL" in self.sentence(answer, 400)

    def test_no_such_period(self, token):
        for period in ("2027-13", "march", "'; --"):
            assert self.sentence(ask(token, f"months/{period}"), 404)

    @pytest.mark.parametrize(
        ("address", "asked"),
        [
            ("balances", {"limit": 1001}),
            ("balances", {"after": -1}),
            ("movements", {"limit": 0}),
            ("movements", {"after": "last"}),
            ("movements", {"after": 10**30}),
            ("movements", {"period": "March 2027"}),
        ],
    )
    def test_what_is_asked_cannot_be(self, token, address, asked):
        assert next(iter(asked)) in self.sentence(ask(token, address, **asked), 400)

    def test_a_fault_of_the_program(self, token, monkeypatch):
        monkeypatch.setattr("ledger.api.answers.months", lambda: 1 / 0)
        assert "fault of its own" in self.sentence(ask(token, "months"), 500)

    def test_a_use_is_noted_once(self, token):
        ask(token, "months")
        ask(token, "months")
        assert TokenUsed.objects.count() == 1


@pytest.mark.usefixtures("loaded_month")
class TestFigures:
    def test_the_month_is_that_of_the_command(self, token, capsys):
        told = ask(token, f"months/{PERIOD}").json()
        call_command("month_account", PERIOD, "--json")
        of_command = json.loads(capsys.readouterr().out)
        last = Movement.objects.order_by("pk").last()
        assert told.pop("as_of") == {"movement": last.pk, "seal": last.seal}
        assert told.keys() <= of_command.keys()
        assert told == {name: of_command[name] for name in told}
        assert {"stages", "vessels", "losses", "removals"} <= told.keys()
        assert told["foots"] is True
        assert round(told["site"]["closing_lpa"] * MICRO) == month_account(PERIOD).site.closing_ul

    def test_balances_by_key_are_all_that_is_held(self, token):
        found, after = [], 0
        while after is not None:
            told = ask(token, "balances", after=after, limit=50).json()
            assert len(told["balances"]) <= 50
            found += told["balances"]
            after = told["next"]
        held = Balance.objects.filter(account__kind__in=("vessel", "stock")).exclude(balance_ul=0, mass_g=0)
        assert {one["account"]: round(one["lpa"] * MICRO) for one in found} == {
            one.account.code: one.balance_ul for one in held.select_related("account")
        }
        assert len(found) == held.count()

    def test_movements_by_key_are_the_chain(self, token):
        found, after = [], 0
        while after is not None:
            told = ask(token, "movements", after=after, limit=500).json()
            found += told["movements"]
            after = told["next"]
        assert [(one["number"], one["seal"]) for one in found] == list(
            Movement.objects.order_by("pk").values_list("pk", "seal")
        )
        assert all(round(sum(leg["lpa"] for leg in one["legs"]) * MICRO) == 0 for one in found)
        assert sum(len(one["legs"]) for one in found) == Leg.objects.count()

    def test_movements_of_one_period(self, token):
        told = ask(token, "movements", period=PERIOD, limit=5).json()["movements"]
        assert {one["period"] for one in told} == {PERIOD}
        assert ask(token, "movements", period="1999-01").json()["movements"] == []

    def test_periods_and_whether_they_are_closed(self, token):
        months = ask(token, "months").json()["months"]
        assert {"period": PERIOD, "closed": False} in months
        assert not Closing.objects.exists()

    def test_the_questions_do_not_grow_with_the_page(self, token, django_assert_max_num_queries):
        ask(token, "balances")
        with django_assert_max_num_queries(8):
            assert len(ask(token, "balances", limit=500).json()["balances"]) > 50
        with django_assert_max_num_queries(8):
            assert len(ask(token, "movements", limit=500).json()["movements"]) > 100


@pytest.mark.django_db
def test_the_document_validates_and_names_every_address():
    answer = Client().get(reverse("api", args=["openapi.json"]))
    document = answer.json()
    validate(document)
    assert sorted(document["paths"]) == [
        *("/api/balances", "/api/months", "/api/months/{period}", "/api/movements"),
    ]
    assert all(list(one) == ["get"] for one in document["paths"].values())
    assert document["components"]["securitySchemes"] == {"ByToken": {"type": "http", "scheme": "bearer"}}
