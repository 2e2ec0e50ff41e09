"""Loads what is left of the demonstration's year and says how far it is: what `demo` starts beside its server."""

from __future__ import annotations

import json
import os
import sys
import threading
from typing import Any

from django.core.management.base import BaseCommand

from distillery.management.demonstration_year import HowFar, load_months


class Command(BaseCommand):
    help = "What `demo` starts beside its server; ends when its own input does."
    requires_system_checks = []

    def handle(self, *args: Any, **options: Any) -> None:
        threading.Thread(target=_end_with_the_server, daemon=True).start()
        load_months(self._tell)

    def _tell(self, far: HowFar) -> None:
        self.stdout.write(json.dumps(far.as_data()))
        self.stdout.flush()


def _end_with_the_server() -> None:
    """Waits for the end of the input, and ends this process at once: what is not committed never was."""
    # Not by way of `sys.stdin`, whose lock this thread would hold when everything is loaded and the process ends.
    while os.read(sys.stdin.fileno(), 1):
        pass
    os._exit(1)
