"""How large a module and a room may be, so that one finds the way: under 350 lines, and at most fifteen modules at one
level. Rooms of steps have one module for each step, or one for what several steps share."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FLOORS = ("batches", "ledger", "distillery")
LONGEST, MOST_IN_A_ROOM = 349, 15


def _modules(floor: str) -> list[Path]:
    return [file for file in sorted((ROOT / floor).rglob("*.py")) if "migrations" not in file.parts]


def test_no_module_is_longer_than_one_can_take_in() -> None:
    length = {
        str(file.relative_to(ROOT)): len(file.read_text(encoding="utf-8").splitlines())
        for floor in FLOORS
        for file in _modules(floor)
    }
    assert len(length) > 500
    assert {name: lines for name, lines in length.items() if lines > LONGEST} == {}, "part it by meaning"


def test_no_room_is_crowded() -> None:
    rooms: dict[str, int] = {}
    for floor in FLOORS:
        for file in _modules(floor):
            room = file.parent.relative_to(ROOT)
            if file.name != "__init__.py" and room.parts[:2] != ("batches", "steps"):
                rooms[str(room)] = rooms.get(str(room), 0) + 1
    assert {name: count for name, count in rooms.items() if count > MOST_IN_A_ROOM} == {}, "make a room within it"
