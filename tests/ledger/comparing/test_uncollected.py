"""The search for rings of objects waits for comparing, and goes on after it whatever happened."""

from __future__ import annotations

import gc

import pytest

from ledger.comparing.uncollected import uncollected


@uncollected()
def _fails() -> None:
    with uncollected():
        assert not gc.isenabled()
    assert not gc.isenabled(), "it waits for the last"
    raise ValueError("odd")


def test_it_waits_for_the_last_and_goes_on_after_an_error() -> None:
    assert gc.isenabled()
    with pytest.raises(ValueError, match="odd"):
        _fails()
    assert gc.isenabled()


def test_where_it_is_off_it_stays_off() -> None:
    gc.disable()
    try:
        with uncollected():
            assert not gc.isenabled()
        assert not gc.isenabled()
    finally:
        gc.enable()
