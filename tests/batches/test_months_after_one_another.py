"""Months loaded one after another, as a site does at their ends: what lies over one goes on in the next.

Worked by hand on the plain plant: 280 L at 70 % in 500 kg of malt. All figures are invented.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from batches.distilling.periods import all_periods
from batches.loading.load_folder import BadRows, load_folder
from batches.models import Record, State

from .tiny_month import LOG, write_folder

PERIODS = """\
period,spirit_class,opened_at,feints_receiver,feints_open_dip_mm,feints_open_celsius,feints_open_hydrometer_percent,\
ended_at,feints_close_dip_mm,feints_close_celsius,feints_close_hydrometer_percent
DP0001,malt spirit,2027-03-01T06:30,F1,500,20,36,{end}
"""
# The spirit run of the month is charged on the 4th at five in the afternoon and ends six hours later.
OPEN, ENDED, TOO_EARLY = ",,,", "2027-03-05T06:00,560,20,36", "2027-03-04T20:00,560,20,36"


def _until_the_charge(folder: Path) -> Path:
    """The month as it stood with the spirit still charged: nothing of the run's end, nor of what came after it."""
    head, row = LOG["spirit_runs"].splitlines()
    cells = dict(zip(head.split(","), row.split(","), strict=True))
    end = ("ended_at", "spirit_after", "feints_receiver_after", "spent_lees")
    cells |= {name: "" for name in cells if name.startswith(end)}
    later = ("transfers", "cask_fills", "removals", "stock_take", "readings")
    runs = f"{head}\n{','.join(cells.values())}\n"
    return write_folder(folder, **dict.fromkeys(later), spirit_runs=runs, distillation_periods=PERIODS.format(end=OPEN))


@pytest.mark.django_db
def test_a_period_and_a_run_that_lie_over_the_end_of_a_month_end_in_the_next(tmp_path: Path) -> None:
    """The run ends before the period does; read at the period's opening it has not ended yet."""
    load_folder(_until_the_charge(tmp_path / "first"))
    assert {one.state for one in Record.objects.filter(number__in=("DP0001", "SR0001"))} == {State.OPEN}
    loaded = load_folder(write_folder(tmp_path / "next", distillation_periods=PERIODS.format(end=ENDED)))
    assert "distillation_period" not in loaded.records
    assert {one.state for one in Record.objects.filter(number__in=("DP0001", "SR0001"))} == {State.COMPLETE}
    assert all_periods()[0].ended_at is not None


@pytest.mark.django_db
def test_a_period_that_ends_before_its_run_is_still_refused(tmp_path: Path) -> None:
    load_folder(_until_the_charge(tmp_path / "first"))
    with pytest.raises(BadRows) as refused:
        load_folder(write_folder(tmp_path / "next", distillation_periods=PERIODS.format(end=TOO_EARLY)))
    said = [(bad.column, bad.reason) for bad in refused.value.bad]
    assert [column for column, _ in said] == ["ended_at"]
    assert "SR0001" in said[0][1]
