"""What stood on the records after each saving, as an export hands it out: in the form that is hashed."""

from __future__ import annotations

from collections.abc import Iterator

from batches.audit.versions_read import written_versions
from batches.models import Version
from batches.records.versions import line_of

VERSIONS = "versions.jsonl"

HASHED = """\
Every line of versions.jsonl is one JSON object with "content" and "digest": what stood on a record after one saving, in
order of the records and, within each, of the savings. The digest is SHA-256 over "content" on one line, written as that
of a movement is. "before" in it is the digest of the record's version before, blank for the first; "values", "rows" and
"notes" are JSON texts as they are kept: single fields, repeating lines, and what was unlikely. "read_by", "typed_by",
"pc", "late_reason" and "blank_sheet" stand only where they are not blank: who read and who typed it, where not who
saved it, at which PC, why it was written late, and the serial of the blank sheet it was first written on. A movement's
"record_digest" is the digest of the version that posted it.
"""


def lines(_upto: int) -> Iterator[str]:
    """Each version as one line of JSON, whether or not it has posted a movement."""
    record, last = 0, ""
    for of, digest, said in written_versions(Version.objects.all()):
        before = last if of == record else ""
        record, last = of, digest
        yield f'{{"content":{line_of(said, before=before)},"digest":"{digest}"}}\n'
