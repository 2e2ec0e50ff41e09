"""python -m tests.simulator.year [--folder fixtures/harrowmere-year] [--seed 2026]: writes the tables of the year."""

import argparse
import json
import os
from pathlib import Path


def main() -> None:
    parser = argparse.ArgumentParser(prog="tests.simulator.year", description="Writes a year at Harrowmere.")
    parser.add_argument("--folder", type=Path, default=Path("fixtures/harrowmere-year"))
    parser.add_argument("--seed", type=int, default=2026)
    asked = parser.parse_args()
    # The sheets say what of a record stood there at the end of a month.
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    import django

    django.setup()
    from . import work_year
    from .tables import write_year

    year, truth = work_year(asked.seed)
    write_year(year, asked.folder)
    for entry in truth["planted"]:
        print("planted:", json.dumps(entry))


if __name__ == "__main__":
    main()
