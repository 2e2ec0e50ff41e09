"""What people do about an enquiry: look, note, tie, propose an ending, agree to it, send it back, take it back.

An ending has a cause, what was checked and a reason, and is agreed to by someone else; one of the two holds the right
to explain. Only then is anything posted, and only for a known loss: so much from the difference to the cause (or back,
for a gain that turns out to have been booked as lost). A cause that is not found posts nothing: the difference stays
in the account, and the law and the officer decide whether duty is due on it.
"""

from __future__ import annotations

from ledger.enquiries.answering.agreeing import agree, may_agree, reopen, send_back
from ledger.enquiries.answering.noting import note, tie, tied_with
from ledger.enquiries.answering.proposing import Proposal, propose

__all__ = ["Proposal", "agree", "may_agree", "note", "propose", "reopen", "send_back", "tie", "tied_with"]
