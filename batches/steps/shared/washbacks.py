"""Whether a washback is free for the wort of a mash: none ferments in it, and no wash waits in it for a still."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.db.models import Q

from batches.models import Mention, Record, State
from batches.sheets.sheet import Problem
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import book_without
from distillery import figures
from distillery.plant.models import MICRO, Vessel

FERMENTATION: Final = "fermentation"
# Less than this by its book is what a dip leaves behind, and no wash: common practice, no source.
LEAST_WASH_UL: Final = 10 * MICRO


def free_for_wort(written: Completed) -> list[Problem]:
    """A washback that a mash was run into while it held other wash. Nothing while the mash has not ended."""
    if not (written.has("ended_at") and written.has("washback")):
        return []
    washback, at = written.vessel("washback"), written.moment("ended_at")
    on = _ferments(washback, at)
    if on is not None:
        said = f"{washback.code} holds wash: {on.number} ferments in it since {figures.moment(on.happened_from)}."
    elif (held := book_without(written.account("washback"), at, written.number).pure_ul) > LEAST_WASH_UL:
        said = f"{washback.code} holds wash: {figures.lpa(held)} litres of pure alcohol by its book."
    else:
        return []
    return [Problem("washback", None, f"{said} Choose another washback, or write first where that wash went.")]


def _ferments(washback: Vessel, at: datetime) -> Record | None:
    """The fermentation that is on in a washback at a moment and began before it."""
    on = Record.objects.filter(
        Q(happened_to=None) | Q(happened_to__gt=at),
        kind=FERMENTATION,
        happened_from__lt=at,
        mentions__what=Mention.What.VESSEL,
        mentions__code=washback.code,
    )
    return on.exclude(state=State.VOID).order_by("-happened_from", "-pk").first()
