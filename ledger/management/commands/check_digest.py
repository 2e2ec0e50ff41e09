"""What a digest from a printed page belongs to, and whether the books still say the same."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.printing.furniture import grouped
from ledger.proof.checking import Asked, NoDigest, read_digest
from ledger.proof.paper.answering import Answer, answer


class Command(BaseCommand):
    help = "Says which document a digest from paper belongs to, whether it stands, and what is other now."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("digest", nargs="+", help="the digest, whole or as in short at the foot of a page")
        parser.add_argument("--number", default="", help="the number at the head of the page, such as MS-2027-03")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            # A digest in fours comes as several words where nobody put it in quotes.
            digest = read_digest(" ".join(options["digest"]))
        except NoDigest as wrong:
            raise CommandError(str(wrong)) from wrong
        found = answer(Asked(digest, options["number"].partition(",")[0].strip()))
        if options["json"]:
            self.stdout.write(json.dumps(found.as_data()))
        else:
            self._text(found)

    def _text(self, found: Answer) -> None:
        for one in found.found:
            version = f", version {one.version}" if one.printed and one.version else ""
            self.stdout.write(f"{one.title}{version}: {'agrees' if one.agrees else 'DOES NOT AGREE'} with the books.")
            self.stdout.write(f"  {one.sentence}")
        for slip in found.slips:
            self.stdout.write(f"Not known as typed; perhaps {slip.title}. {slip.sentence}")
        if not found.found and not found.slips:
            self.stdout.write(f"No digest in these books begins with {grouped(found.asked.digest)}.")
