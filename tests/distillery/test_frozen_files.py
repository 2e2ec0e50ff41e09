"""Files that sites have taken in already are never edited: figures put in by a migration, and the SQL of triggers.

Who changes one adds a file with the next number instead, and its line in the list (as `sha256sum` writes it). A folder
of figures may hold its own list, `digests.sha256`, so that a new folder is all there is to add.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIST = ROOT / "tests" / "data" / "frozen_files.sha256"
OWN_LIST = "digests.sha256"
LISTS = (LIST, *sorted((ROOT / "distillery/rules/data").glob(f"*/{OWN_LIST}")))
FROZEN = dict(line.split()[::-1] for one in LISTS for line in one.read_text(encoding="utf-8").splitlines())
FOLDERS = ("distillery/rules/data/*/*", "ledger/sql/*/*", "batches/sql/*/*")


def _there() -> dict[str, Path]:
    return {
        str(file.relative_to(ROOT)): file
        for folder in FOLDERS
        for file in ROOT.glob(folder)
        if file.is_file() and file.name != OWN_LIST
    }


def test_no_frozen_file_was_edited_or_taken_away() -> None:
    there = _there()
    assert FROZEN.keys() - there.keys() == set()
    changed = [name for name, digest in FROZEN.items() if _digest(there[name]) != digest]
    assert changed == [], "add a file with the next number instead"


def test_every_such_file_is_frozen() -> None:
    assert _there().keys() - FROZEN.keys() == set(), "add the digest of the new file"


def test_a_folder_s_own_list_says_nothing_of_other_folders() -> None:
    for one in LISTS[1:]:
        named = (line.split()[1] for line in one.read_text(encoding="utf-8").splitlines())
        assert {Path(name).parent for name in named} == {one.parent.relative_to(ROOT)}


def test_both_engines_have_the_same_triggers_under_the_same_numbers() -> None:
    for floor in ("ledger", "batches"):
        on = [{file.name for file in (ROOT / floor / "sql" / engine).iterdir()} for engine in ("sqlite", "postgresql")]
        assert on[0] == on[1]
        numbers = [name[:4] for name in on[0]]
        assert len(numbers) == len(set(numbers))


def test_figures_stand_under_the_number_of_the_migration_that_puts_them_in() -> None:
    migrations = {file.stem[:4] for file in (ROOT / "distillery/rules/migrations").glob("[0-9]*.py")}
    assert {folder.name for folder in (ROOT / "distillery/rules/data").iterdir()} <= migrations


def _digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()
