"""What somebody wrote while a site was moved is never left behind in silence."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError

from distillery.management import moving_command
from distillery.management.moving import Moved
from distillery.management.moving_command import MovingCommand


class Elsewhere(MovingCommand):
    into = "elsewhere"

    def _proof(self, url: str, expected: str) -> str:
        return ""


@pytest.mark.parametrize(("seals", "moved"), [((7, 7), True), ((7, 8), False), ((None, 1), False)])
def test_a_seal_made_meanwhile_takes_the_copy_away(
    seals: tuple[int | None, int | None], moved: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, emptied = iter(seals), []
    target: Any = SimpleNamespace(close=lambda: None)
    made = {number: SimpleNamespace(seal=f"seal {number}") for number in seals if number is not None}
    monkeypatch.setattr(moving_command, "last_seal_if_any", lambda: made.get(next(asked)))
    monkeypatch.setattr(moving_command, "opened", lambda config: target)
    monkeypatch.setattr(moving_command, "move", lambda *given: Moved(1, 1, "0" * 64))
    monkeypatch.setattr(moving_command, "named", lambda seal: seal.seal)
    monkeypatch.setattr(moving_command, "empty_again", emptied.append)
    if moved:
        Elsewhere().move_to("sqlite:///other.sqlite3", "other")
        assert emptied == []
        return
    with pytest.raises(CommandError, match=r"Somebody wrote in .+ meanwhile"):
        Elsewhere().move_to("sqlite:///other.sqlite3", "other")
    assert emptied == [target]
