"""Second signatures of a record: who put a name to which version of it, and what has been changed since.

A signature is a fact of its own and names the version that was signed. A later version that says something else has
none until a second person agrees to it; being asked that a record be made void is kept in the same place.
"""

from __future__ import annotations

from datetime import datetime

from django.db.models import Exists, F, OuterRef, QuerySet

from batches.models import Posted, Record, Signature, State, Version
from batches.records import versions
from batches.sheets.typed.read_sheet import Filled
from batches.standing import version_in_books
from distillery import figures
from distillery.people.models import Person

CHANGED_WORDS = "Changed since it was countersigned"
AGREED, VOID_ASKED, SENT_BACK = Signature.What.AGREED, Signature.What.VOID_ASKED, Signature.What.SENT_BACK


def sign(record: Record, version: Version, what: Signature.What, *, person: Person, at: datetime) -> Signature:
    """Writes down that a person agreed to a version, asked that the record be made void, or did not agree."""
    return Signature.objects.create(record=record, version=version, what=what, person=person, at=at)


def newest(record: Record) -> Signature | None:
    """The last agreement of a second person, with the version it is about; None where nobody has signed."""
    return record.signatures.filter(what=AGREED).select_related("person", "version").order_by("-pk").first()


def asks_void(version: Version) -> bool:
    """True where this version asks that its record be made void."""
    return Signature.objects.filter(version=version, what=VOID_ASKED).exists()


def differs_from_signed(record: Record, filled: Filled) -> bool:
    """True where somebody has signed the record and what is typed now is not what was signed."""
    signature = newest(record)
    return signature is not None and versions.typed_of(signature.version) != (filled.typed, filled.rows)


def changed_since(record: Record, latest: Version) -> Signature | None:
    """The signature that no longer covers what stands on the record; None where it does, or where there is none."""
    return no_longer_covers(newest(record), record, latest)


def no_longer_covers(signature: Signature | None, record: Record, latest: Version) -> Signature | None:
    """The same, of the record's newest signature where that has been read already."""
    if signature is None or latest.serial == signature.version.serial or record.state == State.VOID:
        return None
    if asks_void(latest) or versions.typed_of(signature.version) != versions.typed_of(latest):
        return signature
    posted_since = Posted.objects.filter(record=record, version__serial__gt=signature.version.serial)
    return signature if posted_since.exists() else None


def changed_in_words(record: Record, latest: Version, changed: Signature) -> str:
    """'Changed since it was countersigned: ...', the same on page and paper."""
    signed = (
        f"{CHANGED_WORDS}: {changed.person.shown_name} agreed to version {changed.version.serial} on "
        f"{figures.moment(changed.at, year=True)}"
    )
    if record.state != State.WAITING:
        return f"{signed}; nobody has agreed to version {latest.serial}, which stands in the books."
    asks = "asks that it be made void" if asks_void(latest) else f"wrote version {latest.serial}"
    return (
        f"{signed}; {latest.person.shown_name} {asks}, and a second person has to agree. Until then the books hold "
        f"version {version_in_books(record).serial}. Why: {latest.reason}"
    )


def signed_in_words(signature: Signature) -> str:
    """'Version 1 countersigned by A, Wed 31 Mar 2027 08:00.'"""
    at = figures.moment(signature.at, year=True)
    return f"Version {signature.version.serial} countersigned by {signature.person.shown_name}, {at}."


def posted_unsigned(records: QuerySet[Record]) -> list[Record]:
    """Complete records with something in the books that came after the last signature under them."""
    signed = Signature.objects.filter(record=OuterRef("pk"), what=AGREED)
    later = Posted.objects.filter(record=OuterRef("pk"), version__serial__gt=OuterRef("signed_serial"))
    named = records.filter(Exists(signed)).exclude(state__in=(State.VOID, State.WAITING))
    newest_serial = signed.order_by("-pk").annotate(serial=F("version__serial")).values("serial")[:1]
    return list(named.annotate(signed_serial=newest_serial).filter(Exists(later)))
