"""Checks the paper of a bundle beside its ledger: called by verify_export.py where a folder has documents.jsonl.

Takes the digest of every document anew from its content, holds its tables against their digests and, where the content
is a list, cell by cell against it; then the pages, and the last document, which names all others and the last seal of
the ledger. Needs Python 3.10 or later and nothing else.
"""

from __future__ import annotations

import csv
import hashlib
import json
import re
from pathlib import Path
from typing import Any

DOCUMENTS = "documents.jsonl"
BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
A_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")


def digest_of(content: Any) -> str:
    """SHA-256 of the content as JSON in its one form, UTF-8."""
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def as_cell(text: str) -> str:
    """A text as the tables have it: what a spreadsheet would take for a formula stands behind an apostrophe."""
    return f"'{text}" if text.startswith(BEGINS_A_FORMULA) and not A_NUMBER.fullmatch(text) else text


class Paper:
    """The documents and pages of a bundle. `fault` is a sentence about the first place that does not hold, or ''."""

    def __init__(self, folder: Path, last_seal: str) -> None:
        self.folder = folder
        self.last_seal = last_seal
        with (folder / DOCUMENTS).open(encoding="utf-8") as lines:
            self.documents = [json.loads(line) for line in lines]
        with (folder / "pages.csv").open(encoding="utf-8", newline="") as file:
            self.pages = list(csv.DictReader(file))

    def fault(self) -> str:
        """Looks at documents, tables, pages and what binds them, in this order."""
        if not self.documents:
            return f"{DOCUMENTS} has no document"
        for place, one in enumerate(self.documents, 1):
            if found := self._of_document(place, one):
                return f"document {place} ({one['title']} {one['number']}): {found}"
        return self._of_all() or self._of_pages()

    def said(self) -> str:
        """Which digest stands at the foot of which pages."""
        lines = [f"{len(self.documents)} documents on {len(self.pages)} pages; every digest holds."]
        for one in self.documents:
            pages = [row["page"] for row in self.pages if row["document"] == str(one["document"])]
            span = pages[0] if len(pages) == 1 else f"{pages[0]} to {pages[-1]}"
            lines.append(f"  page {span:<12} {grouped(one['digest'])}  {one['title']} {one['number']}")
        return "\n".join([*lines, f"Digest of the bundle, in full on its last page: {self.documents[-1]['digest']}"])

    def _of_document(self, place: int, one: dict[str, Any]) -> str:
        if one["document"] != place:
            return "it does not stand in its place"
        if digest_of(one["content"]) != one["digest"]:
            return "its content does not give its digest"
        held = (self.folder / one["tables"]).read_bytes()
        if hashlib.sha256(held).hexdigest() != one["tables_digest"]:
            return f"{one['tables']} does not give its digest"
        return self._of_list(one["content"], held.decode("utf-8"), one["tables"])

    @staticmethod
    def _of_list(content: Any, text: str, name: str) -> str:
        if not isinstance(content, dict) or "rows" not in content or "columns" not in content:
            return ""
        wanted = [[as_cell(cell["text"]) for cell in row["cells"]] for row in content["rows"]]
        found = [line[1:] for line in csv.reader(text.splitlines(keepends=True)) if line and line[0] == "row"]
        return "" if found == wanted else f"{name} does not say what its digest is taken over"

    def _of_all(self) -> str:
        *others, last = self.documents
        content = last["content"]
        if content["last_seal"] != self.last_seal:
            return "the last document names another last seal than the ledger has"
        named = [[*row[:4], row[6]] for row in content["documents"]]
        there = [[one["document"], one["title"], one["number"], one["digest"], one["tables_digest"]] for one in others]
        return "" if named == there else "the last document does not name the documents that are there"

    def _of_pages(self) -> str:
        spans = {row[0]: (row[4], row[5]) for row in self.documents[-1]["content"]["documents"]}
        digests = {one["document"]: one["digest"] for one in self.documents}
        last = len(self.documents)
        for number, row in enumerate(self.pages, 1):
            document = int(row["document"])
            first, until = spans.get(document, (spans[last - 1][1] + 1, len(self.pages)) if last > 1 else (1, number))
            if int(row["page"]) != number or not first <= number <= until:
                return f"pages.csv, page {number}: it is not where the last document has it"
            if row["digest"] != digests.get(document) or row["at_foot"] != grouped(row["digest"]):
                return f"pages.csv, page {number}: its digest is not that of its document"
        return ""


def grouped(digest: str) -> str:
    """The first sixteen figures in fours, as they stand at the foot of a page."""
    return " ".join(digest[start : start + 4] for start in range(0, 16, 4))
