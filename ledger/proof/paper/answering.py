"""The one answer to a digest from paper, for the page and for the command."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from ledger.proof.checking import Asked, Checked, check
from ledger.proof.paper.slips import Slip, slips


@dataclass(frozen=True, slots=True)
class Answer:
    """What a digest belongs to; where nothing has it, what it may be with one slip."""

    asked: Asked
    found: tuple[Checked, ...]
    slips: tuple[Slip, ...]

    @property
    def named(self) -> Checked | None:
        """What the digest belongs to: what agrees before what does not. None where the digest itself is not known.

        A page that only bears the number which was typed is not what has the digest, unless it agrees.
        """
        having = [one for one in self.found if one.agrees or not one.anew]
        return next((one for one in having if one.agrees), having[0] if having else None)

    def as_data(self) -> dict[str, Any]:
        """As the command gives it."""
        one = self.named
        return {
            "known": one is not None,
            "document": (one.document or one.title) if one is not None else "",
            "version": one.version if one is not None else 0,
            "stands": one is not None and one.agrees,
            "changed": list(one.changed) if one is not None else [],
            "figures": [asdict(each) for each in one.figures] if one is not None else [],
            "says": one.sentence if one is not None else "",
            "digest": self.asked.digest,
            "now": one.digest if one is not None else "",
            "belongs_to": [
                {"document": each.document or each.title, "version": each.version, "stands": each.agrees}
                for each in self.found
                if each.agrees or not each.anew
            ],
            "one_slip_from": [{"document": each.title, "digest": each.digest} for each in self.slips],
        }


def answer(asked: Asked) -> Answer:
    """What a digest belongs to and whether it still stands. Reads only."""
    found = check(asked)
    having = any(one.agrees or not one.anew for one in found)
    return Answer(asked, tuple(found), () if having else tuple(slips(asked, found)))
