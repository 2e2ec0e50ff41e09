"""What stood on the records after each saving, as an export hands it out: in the form that is hashed."""

from __future__ import annotations

from collections.abc import Iterator

from batches.models import Version
from batches.records.versions import canonical, content_of

CHUNK = 1000
VERSIONS = "versions.jsonl"

HASHED = """\
Every line of versions.jsonl is one JSON object with "content" and "digest": what stood on a record after one saving, in
order of the records and, within each, of the savings. The digest is SHA-256 over "content" on one line, written as that
of a movement is. "before" in it is the digest of the record's version before, blank for the first; "values", "rows" and
"notes" are JSON texts as they are kept: single fields, repeating lines, and what was unlikely. "read_by", "typed_by",
"pc" and "late_reason" stand only where they are not blank: who read and who typed it, where not who saved it, at which
PC, and why it was written late. A movement's
"record_digest" is the digest of the version that posted it.
"""


def lines(_upto: int) -> Iterator[str]:
    """Each version as one line of JSON, whether or not it has posted a movement."""
    record, digest = 0, ""
    for version in (
        Version.objects.select_related("record", "person").order_by("record_id", "serial").iterator(chunk_size=CHUNK)
    ):
        before = digest if version.record_id == record else ""
        record, digest = version.record_id, version.digest
        yield f'{{"content":{canonical(content_of(version, before=before))},"digest":"{digest}"}}\n'
