"""The tables of a year as folders, one for each month, as a site would have loaded them at its end."""

from pathlib import Path

from tests.benchmarks.monthly_folders import write_months, write_whole
from tests.simulator.month import Month

from .calendar import months
from .writers import COLUMNS


def write_year(year: Month, folder: Path) -> None:
    """Writes a folder for each month into `folder`; the plant stands in the first."""
    write_months(year, months(), folder, COLUMNS)


def write_year_whole(year: Month, folder: Path) -> None:
    """Writes the whole year as one folder, every record as it stood at the end."""
    write_whole(year, folder, COLUMNS)
