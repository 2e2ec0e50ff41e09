"""`serve`: what it serves, and what it will not serve."""

from __future__ import annotations

import json
import re
import socket
import urllib.error
import urllib.request
from datetime import UTC, datetime
from pathlib import Path

import pytest

from distillery.copies.places import named
from tests.running_site import Databases, execute, run_alone, serving


def answer(url: str) -> tuple[int, dict[str, str], str]:
    with urllib.request.urlopen(url, timeout=10) as response:
        return response.status, {k.lower(): v for k, v in response.headers.items()}, response.read().decode()


def test_a_new_database_is_brought_up_to_date_and_served(new_database: str) -> None:
    with serving(new_database) as site:
        status, headers, page = answer(f"{site}/sign-on/")
        assert status == 200
        assert "default-src 'self'" in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert "waitress" not in headers.get("server", "")
        # A hashed name changes with its content, so browsers may keep the file for good.
        styles = re.search(r'href="(/static/[^"]+\.[0-9a-f]{12}\.css)"', page)
        assert styles, page
        _, style_headers, _ = answer(site + styles.group(1))
        assert "immutable" in style_headers["cache-control"]


def test_a_site_that_keeps_copies_says_the_age_of_the_newest(migrated_database: str, tmp_path: Path) -> None:
    """There is one of today, so that the server itself takes none while this looks, at any hour of the night."""
    (tmp_path / named(datetime.now(UTC), "empty-00000000", "sqlite")).touch()
    with serving(migrated_database, KEEPS_COPIES="true", COPIES_FOLDER=str(tmp_path)) as site:
        status, _, told = answer(f"{site}/health/")
    assert (status, json.loads(told)["newest_copy"]) == (200, {"ok": True, "known": True, "hours": 0})


def test_an_address_that_is_not_ours_is_refused_without_a_trace(migrated_database: str) -> None:
    with serving(migrated_database) as site:
        asked = urllib.request.Request(f"{site}/sign-on/", headers={"Host": "elsewhere.invalid"})
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(asked, timeout=10)
        assert refused.value.code == 400
        assert "Traceback" not in refused.value.read().decode()


def test_a_ledger_without_its_triggers_is_not_served(migrated_database: str, databases: Databases) -> None:
    on_table = "" if databases.on_sqlite else " ON ledger_leg"
    execute(migrated_database, f"DROP TRIGGER ledger_leg_no_update{on_table}")
    refused = run_alone(migrated_database, "serve", "--port", "0")
    assert refused.returncode == 1
    assert "The site is not served" in refused.stderr
    assert "ledger_leg_no_update" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_a_site_with_debug_on_is_not_served(new_database: str) -> None:
    refused = run_alone(new_database, "serve", "--port", "0", DEBUG="true")
    assert refused.returncode == 1
    assert "DEBUG is on" in refused.stderr


def test_a_port_in_use_is_named(migrated_database: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        refused = run_alone(migrated_database, "serve", "--port", str(port))
    assert refused.returncode == 1
    assert f"127.0.0.1 port {port}" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_the_demonstration_is_served_to_this_computer_only(demo_database: str) -> None:
    refused = run_alone(demo_database, "serve", "--host", "0.0.0.0", "--port", "0")
    assert refused.returncode == 1
    assert "whose passwords anybody can read" in refused.stderr
