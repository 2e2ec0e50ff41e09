"""`demo`: fills an empty database, knows its own again, and never touches another."""

from __future__ import annotations

import json

from tests.running_site import run


def test_it_names_four_people_whose_passwords_work(demo_database: str) -> None:
    again = run(demo_database, "demo", "--no-serve")
    assert again.returncode == 0, again.stderr
    assert "already" in again.stdout
    said = [line.split() for line in again.stdout.splitlines() if " password " in line]
    assert sorted(words[3] for words in said) == ["(administrator)", "(manager)", "(officer)", "(staff)"]
    tried = run(
        demo_database,
        "shell",
        "--verbosity=0",
        "-c",
        "from django.contrib.auth import authenticate\n"
        f"for name, password, role in {[(words[0], words[2], words[3].strip('()')) for words in said]}:\n"
        "    person = authenticate(username=name, password=password)\n"
        "    print(person.groups.get().name == role)",
    )
    assert tried.stdout.split() == ["True"] * 4, tried.stderr


def test_a_second_time_adds_nothing(demo_database: str) -> None:
    account = ("month_account", "2027-03", "--json")
    before = run(demo_database, *account)
    assert run(demo_database, "demo", "--no-serve").returncode == 0
    assert run(demo_database, *account).stdout == before.stdout
    assert json.loads(before.stdout)["foots"] is True


def test_a_database_with_a_site_in_it_is_refused(migrated_database: str) -> None:
    made = run(
        migrated_database,
        "createsuperuser",
        "--noinput",
        "--username",
        "keeper",
        "--email",
        "keeper@site.invalid",
        DJANGO_SUPERUSER_PASSWORD="of-tests-only",
    )
    assert made.returncode == 0, made.stderr
    refused = run(migrated_database, "demo", "--no-serve")
    assert refused.returncode == 1
    assert "holds a site already" in refused.stderr
    assert "Traceback" not in refused.stderr
    people = run(
        migrated_database,
        "shell",
        "--verbosity=0",
        "-c",
        "from distillery.people.models import Person; print(Person.objects.count())",
    )
    assert people.stdout.strip() == "1"
