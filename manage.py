#!/usr/bin/env python
"""Runs the site's commands: demo, serve, load_month, month_account, findings, trace, verify_ledger, backup, restore."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    from distillery.starting.ending import run_command

    sys.exit(run_command(sys.argv))


if __name__ == "__main__":
    main()
