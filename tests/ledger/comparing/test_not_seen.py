"""What could not have been seen in an operation agrees with what was found there; a small site worked by hand."""

from __future__ import annotations

import pytest

from ledger.comparing.compare import Comparison, compare
from ledger.comparing.findings.detectability import detectability_of
from tests.ledger.comparing.small_log import NoTables, SmallSite, remeasure, usual_of


def searched(site: SmallSite) -> Comparison:
    return compare(site.log(), NoTables(), expected_loss=usual_of, remeasure=remeasure)


def detectable(month: Comparison, record: str) -> float:
    found = detectability_of(month, record)
    assert found is not None
    return found.detectable


def test_a_loss_that_was_found_could_be_seen() -> None:
    """The instruments are those of the runs beside it, so what shows there shows here."""
    site = SmallSite()
    site.run()
    site.run(lost=80.0)
    site.run()
    month = searched(site)
    (one,) = month.search.found
    assert one.fault.hypothesis.key == "loss:operation:SR0002"
    assert detectable(month, "SR0002") < abs(one.fault.fit.size)
    assert detectable(month, "SR0002") == pytest.approx(detectable(month, "SR0001"), rel=0.25)


def test_a_wrong_reading_that_was_found_does_not_hide_what_else_could_be_seen() -> None:
    site = SmallSite()
    site.run()
    true = site.held["B"][0] + 100.0 * 1000.0 * 0.996 / 70.0
    site.run(wrong={"spirit_after": {"dip": round(true) - 100.0}})
    site.run()
    month = searched(site)
    assert len(month.search.found) == 1
    assert detectable(month, "SR0002") == pytest.approx(detectable(month, "SR0001"), rel=0.25)


def test_what_was_found_elsewhere_changes_nothing() -> None:
    clean, faulty = SmallSite(), SmallSite()
    for site, lost in ((clean, 0.0), (faulty, 80.0)):
        site.run()
        site.run()
        site.run(lost=lost)
    assert detectable(searched(faulty), "SR0001") == pytest.approx(detectable(searched(clean), "SR0001"), rel=0.1)
