"""A form that is sent twice writes once: a double click, or sending again after no answer came.

Each page gives its form a token. The token is kept with what the form wrote and a digest of what it said. When the
token comes again with the same words, the work is done already. With other words, somebody went back to the page and
wrote on it anew; what is meant then only that person can say.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from batches.models import Record, Sending
from distillery.database.fixed_sql import add
from distillery.drafts import keeping
from distillery.drafts.keeping import Which
from distillery.hashing import canonical

LONGEST_TOKEN = 64


@dataclass(frozen=True, slots=True)
class SentForm:
    """The token of a form, the digest of what it says, and the draft that goes once it is saved."""

    token: str
    content: str
    draft: Which | None = None


class AlreadySaved(Exception):
    """This form has written before, on `record`; `same` where it said the same then. Nothing more was written."""

    def __init__(self, record: Record, *, same: bool) -> None:
        super().__init__(f"{record.number} was saved from this form already.")
        self.record = record
        self.same = same


def new_token() -> str:
    """A token for a form that is about to be shown."""
    return secrets.token_urlsafe(18)


def sent_form(
    token: str,
    values: Mapping[str, str],
    rows: Sequence[Mapping[str, str]] = (),
    reason: str = "",
    draft: Which | None = None,
) -> SentForm | None:
    """What was sent, to be known again; None for a form without a token."""
    if not token or len(token) > LONGEST_TOKEN:
        return None
    # A box left blank says as little as one that was not on the page.
    filled = [{name: value for name, value in row.items() if value} for row in (values, *rows)]
    said = canonical([*filled, reason])
    return SentForm(token, hashlib.sha256(said.encode("ascii")).hexdigest(), draft)


def refuse_again(form: SentForm | None) -> None:
    """Raises AlreadySaved for a form that has written. Asked in the turn in which the form would write."""
    if form is None:
        return
    before = Sending.objects.filter(token=form.token).select_related("record").first()
    if before is not None:
        raise AlreadySaved(before.record, same=before.content == form.content)


def remember(form: SentForm | None, record: Record) -> None:
    """Keeps the token with what it wrote, and lets its draft go, in the same transaction."""
    if form is not None:
        add([Sending(token=form.token, content=form.content, record=record)])
        let_draft_go(form)


def let_draft_go(form: SentForm | None) -> None:
    """Removes the draft of a form that says nothing which is not saved."""
    if form is not None and form.draft is not None:
        keeping.let_go(form.draft, form.token)


def written_of(tokens: Collection[str]) -> set[str]:
    """Those of some tokens whose forms have written."""
    return set(Sending.objects.filter(token__in=tokens).values_list("token", flat=True))
