"""No command, page or service takes a record or an entry out of the books, however old: there is no removal at all.

UK excise records are kept six years unless HMRC agrees to less (HMRC manual CH14990). What the program does take away
is named here, line by line, with why it is no record; facts besides are held by triggers on both engines.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from django.core.management import get_commands
from django.db import IntegrityError, transaction
from django.urls import URLPattern, URLResolver, get_resolver

from batches.models import Record, Version
from ledger.models import Leg, Movement

ROOT = Path(__file__).resolve().parents[2]
# By module: what is taken away there.
TAKEN_AWAY = {
    "distillery/jobs/files.py": "rows of long work that ended; its result can be made again",
    "distillery/drafts/keeping.py": "what was typed and not saved, after 72 hours or once it is saved",
    "distillery/management/moving.py": "what `migrate` put into the empty database that a site moves into",
    "ledger/enquiries/following.py": "notes that a period is to be compared, once it is",
    "ledger/kept/keeping.py": "kept comparisons, which come back the same",
    "ledger/proof/unguarded.py": "rows by which somebody would have passed the triggers",
    "distillery/database/counted_tables.py": "how many rows SQLite counted of a value, where that leads it astray",
    "batches/records/versions.py": "where a record is mentioned, worked out again from its newest version",
    "batches/tracing/links.py": "links and contents, worked out again from the legs",
    "batches/tracing/materials.py": "links to lots, worked out again from the newest version",
}
SQL = re.compile(r"\b(DELETE\s+FROM|DROP\s+TABLE)\b", re.IGNORECASE)
WORDS = re.compile(r"delete|remove|prune|purge|erase|forget|clean", re.IGNORECASE)
# Commands of Django and its apps that a site never needs; what they empty is no record or is held by the triggers.
OF_DJANGO = {"clearsessions", "flush", "remove_stale_contenttypes"}


def _removes(file: Path) -> bool:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    called = any(
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in {"delete", "_raw_delete"}
        for node in ast.walk(tree)
    )
    texts = [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    return called or any(SQL.search(text) for text in texts)


def test_what_the_program_takes_away_is_no_record() -> None:
    files = (file for floor in ("distillery", "ledger", "batches") for file in (ROOT / floor).rglob("*.py"))
    found = {file.relative_to(ROOT).as_posix() for file in files if "migrations" not in file.parts and _removes(file)}
    # Making a place for a trial and taking that place away again.
    found.discard("distillery/copies/beside.py")
    assert found == TAKEN_AWAY.keys()


def test_no_command_is_there_to_remove_anything() -> None:
    assert {name for name in get_commands() if WORDS.search(name)} - OF_DJANGO == set()


def test_no_page_is_there_to_remove_anything() -> None:
    def names(patterns: list[URLPattern | URLResolver]) -> list[str]:
        return [
            name
            for one in patterns
            for name in (names(one.url_patterns) if isinstance(one, URLResolver) else [one.name or ""])
        ]

    assert [name for name in names(get_resolver().url_patterns) if WORDS.search(name)] == []


@pytest.mark.usefixtures("loaded_month")
@pytest.mark.parametrize("model", [Movement, Leg, Record, Version])
def test_the_database_itself_refuses(model: type) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        model._base_manager.order_by("pk").first().delete()
    assert model._base_manager.exists()
