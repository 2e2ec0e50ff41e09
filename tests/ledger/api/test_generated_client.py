"""A client generated from the OpenAPI document, as another program would have one, reads the month."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from django.test import Client

from distillery.plant.models import MICRO
from distillery.tokens import keeping
from ledger.api import waiting
from ledger.statements.month import month_account

PERIOD = "2027-03"
GENERATE = "import sys; from openapi_python_client.cli import app; app(sys.argv[1:])"


def through_the_site(request: httpx.Request) -> httpx.Response:
    """The answer of the site in this process, as if it had come over the wire."""
    answer = Client().get(
        request.url.path, dict(request.url.params), headers={"Authorization": request.headers["Authorization"]}
    )
    return httpx.Response(answer.status_code, content=answer.content, headers=dict(answer.headers))


@pytest.fixture
def generated(tmp_path, monkeypatch) -> Path:
    document = tmp_path / "openapi.json"
    document.write_text(json.dumps(Client().get("/api/openapi.json").json()), encoding="utf-8")
    made = tmp_path / "books_client"
    done = subprocess.run(
        [
            *(sys.executable, "-c", GENERATE, "generate", "--path", str(document)),
            *("--meta", "none", "--output-path", str(made), "--overwrite"),
        ],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    monkeypatch.syspath_prepend(str(tmp_path))
    return made


def test_it_reads_the_month(loaded_month, administrator, generated):
    waiting.asked.forget()
    waiting.wrong.forget()
    client = importlib.import_module("books_client.client")
    months = importlib.import_module("books_client.api.default.month_account")
    movements = importlib.import_module("books_client.api.default.movements")
    made = keeping.make(name="accounts", person=administrator)
    here = client.AuthenticatedClient(base_url="http://127.0.0.1", token=made.text)
    here.set_httpx_client(
        httpx.Client(
            base_url="http://127.0.0.1",
            headers={"Authorization": f"Bearer {made.text}"},
            transport=httpx.MockTransport(through_the_site),
        )
    )
    account = months.sync(PERIOD, client=here)
    worked = month_account(PERIOD)
    assert account.foots is True
    assert [round(line.closing_lpa * MICRO) for line in account.stages] == [line.closing_ul for line in worked.stages]
    assert {one.cause: round(one.lpa * MICRO) for one in account.losses} == dict(worked.losses)
    first = movements.sync(client=here, limit=3)
    assert [one.number for one in first.movements] == [1, 2, 3]
    assert first.next_ == 3
    refused = months.sync("2027-13", client=here)
    assert "2027-13" in refused.error
