"""Numbers of casks that fit what is typed into a box: a warehouse has too many to choose from in a list.

A number is known in any case and without its noughts; what is typed may also be how it begins. However many casks
there are, two questions along the index of their numbers find the few that are offered.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

from distillery import figures
from distillery.plant.lookup import FIXED
from distillery.plant.models import Cask, Vessel
from distillery.typed.spellings import begins, spellings
from ledger.models import Balance

MOST: Final = 20
LONGEST: Final = 40
NONE: Final = "No cask of that number in the warehouse."
MORE: Final = f"The first {MOST}; type more of the number."


@require_safe
def cask_numbers(request: HttpRequest) -> JsonResponse:
    """`?q=2022/` gives up to MOST casks, each with its number and what it is, and a sentence where that is not all."""
    found = fitting(request.GET.get("q", ""))
    said = NONE if not found else MORE if len(found) > MOST else ""
    return JsonResponse({"casks": _described(found[:MOST]), "said": said})


def fitting(typed: str) -> list[str]:
    """Numbers of casks that can be meant, one more than MOST where there are more: the very one first, then those
    that begin so."""
    text = typed.strip()
    if "\x00" in text or len(text) > LONGEST:
        return []
    # Said as 'none of the few others', so that the database goes along the numbers and not along all casks.
    casks = Vessel.objects.exclude(kind__in=FIXED).order_by("code")
    whole = list(casks.filter(code__in=spellings(text)).values_list("code", flat=True)[:MOST]) if text else []
    more = (
        casks.filter(begins("code", text)).exclude(code__in=whole).values_list("code", flat=True)
        if text
        else casks.none()
    )
    return [*whole, *more[: MOST + 1 - len(whole)]]


def _described(numbers: Sequence[str]) -> list[dict[str, str]]:
    known = {one.vessel.code: one for one in Cask.objects.filter(vessel__code__in=numbers).select_related("vessel")}
    held = dict(
        Balance.objects.filter(account__vessel__code__in=numbers).values_list("account__vessel__code", "balance_ul")
    )
    return [{"number": number, "about": _about(known[number], held.get(number, 0))} for number in numbers]


def _about(cask: Cask, held_ul: int) -> str:
    place = f"warehouse {cask.warehouse}" if cask.warehouse else ""
    holds = f"{figures.lpa(held_ul)} LPA" if held_ul > 0 else "empty"
    return ", ".join(one for one in (cask.kind, place, holds) if one)
