"""Runs the site's commands where the program is installed: `gaugebook serve`, or `python -m distillery serve`."""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Runs the command in `sys.argv` and ends the process with its status."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    from distillery.starting.ending import run_command

    sys.exit(run_command(["gaugebook", *sys.argv[1:]]))


if __name__ == "__main__":
    main()
