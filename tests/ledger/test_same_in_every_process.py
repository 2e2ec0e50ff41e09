"""What a comparison finds is the same to the last digit in every process, so that what one kept another can trust.

Python orders a set of texts another way in every process (PYTHONHASHSEED, docs.python.org/3/using/cmdline.html), and a
sum of floats comes out otherwise in another order.
"""

from __future__ import annotations

import pytest

from tests.running_site import run

SAID = "from ledger.comparing.month import compare_month; print(repr(compare_month('2027-03').findings))"


@pytest.mark.long
def test_findings_hang_on_no_order_of_sets(demo_database: str) -> None:
    said = []
    for seed in ("1", "2", "3"):
        done = run(demo_database, "shell", "--no-imports", "-c", SAID, PYTHONHASHSEED=seed)
        assert done.returncode == 0, done.stderr
        said.append(done.stdout)
    assert "Finding(" in said[0]
    assert said[1] == said[0]
    assert said[2] == said[0]
