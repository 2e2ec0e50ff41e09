"""Does what answers of the server need not wait for. `serve` starts it; it is of no use by itself."""

from __future__ import annotations

import signal
import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from distillery.health.log_file import keep_log
from distillery.management.beside import do_what_is_asked


class Command(BaseCommand):
    help = "Does what the server's answers need not wait for. Started by serve; ends with it."
    requires_system_checks = []

    def handle(self, *args: Any, **options: Any) -> None:
        # Ctrl-C goes to both; this one ends when the server lets it go.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        keep_log(settings.LOG_FOLDER, "beside")
        do_what_is_asked(sys.stdin.fileno())
