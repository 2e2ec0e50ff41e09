"""python -m tests.simulator --seed 7 --folder FOLDER [--size small] [--month 2027-05] [--clean]"""

import argparse
from pathlib import Path

from . import SIZES, simulate


def main() -> None:
    parser = argparse.ArgumentParser(prog="tests.simulator", description="Writes one random month of a distillery.")
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--size", choices=SIZES, default="ordinary")
    parser.add_argument("--month", default="2027-05", help="year and month, as 2027-05")
    parser.add_argument("--months", type=int, default=1, help="how many months, from that one on")
    parser.add_argument("--maturing", type=int, help="casks in the warehouses at the start")
    parser.add_argument("--clean", action="store_true", help="plant no slips and no leaks")
    asked = parser.parse_args()
    truth = simulate(
        asked.seed,
        asked.folder,
        size=asked.size,
        clean=asked.clean,
        month=asked.month,
        months=asked.months,
        maturing=asked.maturing,
    )
    print(f"{asked.folder}: {len(truth['operations'])} operations, {len(truth['casks'])} casks filled")
    for entry in truth["planted"]:
        print("planted:", ", ".join(f"{name} {value}" for name, value in entry.items()))


if __name__ == "__main__":
    main()
