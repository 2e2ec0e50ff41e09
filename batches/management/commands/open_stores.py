from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.audit.opening_stores import open_stores
from distillery.seals.writing import written_by


class Command(BaseCommand):
    help = "Open the books of materials for records that were written before the stores kept any."

    def handle(self, *args: Any, **options: Any) -> None:
        with written_by(None, "open_stores"):
            written, short = open_stores()
            if short:
                raise CommandError(f"Nothing was written. {' '.join(short)}")
        records = "1 record" if written == 1 else f"{written} records"
        self.stdout.write(f"The stores now hold what {records} said of them.")
