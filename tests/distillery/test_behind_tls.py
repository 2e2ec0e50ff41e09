"""A site behind a proxy that speaks HTTPS: the framework's own checks find nothing; a proxy is named by its address."""

from __future__ import annotations

from tests.running_site import run

BEHIND_TLS = {"TRUSTED_PROXY": "127.0.0.1", "ALLOWED_HOSTS": "books.harrowmere.invalid", "SECRET_KEY": "0123456789" * 6}


def test_the_framework_s_checks_for_serving_find_nothing(migrated_database: str) -> None:
    done = run(migrated_database, "check", "--deploy", "--fail-level", "WARNING", **BEHIND_TLS)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout, done.stdout + done.stderr
    bare = run(migrated_database, "check", "--deploy", "--fail-level", "WARNING", SECRET_KEY="0123456789" * 6)
    assert "security.W012" in bare.stderr, "without TLS the same checks have something to say"


def test_a_proxy_is_named_by_its_address(migrated_database: str) -> None:
    done = run(migrated_database, "check", TRUSTED_PROXY="the proxy")
    assert done.returncode == 1
    assert "TRUSTED_PROXY is 'the proxy'; write the address of one computer" in done.stderr
