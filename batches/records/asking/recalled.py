"""What is asked before something leaves that a recalled lot, record, vessel or cask has touched.

Nothing is refused: what is recalled may have to leave, to be destroyed or sent back. What was answered stands on the
record as a remark.
"""

from __future__ import annotations

from collections.abc import Iterator

from batches.recalls.recalling import standing
from batches.recalls.touching import touched_by
from batches.records.asking.figures import Stood
from batches.records.asking.questions import Question, Sure, Why, ask
from batches.records.posting import drafts_of
from batches.sheets.sheet import Note, Sheet
from batches.sheets.typed.read_sheet import Filled, Unfit
from distillery import figures
from ledger.models import Account, AccountKind
from ledger.posting.drafts import Emptied, Moved

SHARE_PLACES = 4


def ask_about_recalled(filled: Filled, *, sure: Sure, before: Stood | None = None) -> None:
    """Asks for each recall that touched what leaves by this sheet, where that is new or changed since `before`.

    Raises Asked.
    """
    if sure is True or not _takes_out(filled.completed.sheet):
        return
    recalled = list(standing())
    if not recalled:
        return
    found = list(_questions(filled, [one.ref for one in recalled]))
    stood = before[0] if before is not None else {}
    ask([one for one in found if stood.get(one.field) != filled.typed.get(one.field)], sure)
    # What was answered stays on the record while the same is typed.
    filled.notes += [Note(one.field, None, one.remark) for one in found]


def _takes_out(sheet: Sheet) -> bool:
    """True for a step by which something can leave, so that no other is asked to look."""
    return sheet.bottles_leave is not None or sheet.signs


def _questions(filled: Filled, recalled: list[str]) -> Iterator[Question]:
    leaving = _leaving(filled)
    accounts = Account.objects.filter(code__in=leaving).select_related("vessel").order_by("code")
    for account in accounts:
        field = leaving[account.code]
        for ref in recalled:
            part = touched_by(ref).accounts.get(account.pk)
            if part is None:
                continue
            share = figures.percent(100 * part, SHARE_PLACES)
            sentence = (
                f"{ref} is recalled, and {share} % of what {account.name} holds is of it. Does it leave all the same?"
            )
            typed = filled.typed.get(field, "")
            yield Question(
                field,
                Why.RECALLED,
                sentence,
                f"{ref} {typed}",
                "It leaves all the same",
                remark=f"Left while {ref} was recalled: {share} % of what {account.name} held.",
            )


def _leaving(filled: Filled) -> dict[str, str]:
    """Accounts that something leaves from by this sheet, by code, each with the field that says so."""
    found: dict[str, str] = {}
    try:
        drafts = drafts_of(filled)
    except Unfit:
        return found  # said in the turn, with all else that is wrong
    for draft in drafts.values():
        for line in draft.lines:
            if isinstance(line, Moved) and line.taker.kind == AccountKind.REMOVAL:
                found.setdefault(line.giver.code, line.field or filled.completed.sheet.moments[0].when)
            elif isinstance(line, Emptied) and line.into.kind == AccountKind.REMOVAL:
                found.setdefault(line.account.code, filled.completed.sheet.moments[0].when)
    return found
