"""Runs that are made up have no database behind them: the site has set no figures of its own."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _no_figures_of_the_site(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("batches.running.runs.usual_figure", lambda name, on: None)
