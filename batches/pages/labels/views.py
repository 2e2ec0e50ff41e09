"""The page on which labels are asked for, and their PDF. Looking at one writes nothing: a label is no record."""

from __future__ import annotations

from typing import Final

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from batches.pages.labels.making import Labels, NoSuchLabel, case_labels, cask_labels, lot_labels, whole
from distillery.labels.drawing import A_SHEET, NoLabel, labels_pdf

WHAT: Final = ("casks", "lot", "cases")
ON_A4: Final = "a4"
LONGEST: Final = 8_000


@require_safe
def labels_asked(request: HttpRequest) -> HttpResponse:
    """Boxes for casks, a lot, and cases."""
    return _page(request)


@require_safe
def labels_print(request: HttpRequest, what: str) -> HttpResponse:
    """The labels that are asked for, each on a page of its own size or several on A4; where there are none, why."""
    if what not in WHAT:
        raise Http404(f"There are no labels of {what[:40]}; there are of {', '.join(WHAT)}.")
    number = request.GET.get("number", "")[:LONGEST]
    try:
        labels = _made(request, what, number)
        pdf = labels_pdf(labels, on_a4=request.GET.get("on") == ON_A4, title=f"Labels of {what}")
    except (NoSuchLabel, NoLabel) as refused:
        return _page(request, str(refused), status=404)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="labels-{what}.pdf"'
    return answer


def _made(request: HttpRequest, what: str, number: str) -> Labels:
    if what == "casks":
        return cask_labels(number)
    if what == "lot":
        return lot_labels(number)
    first, cases = whole(request.GET.get("first", ""), 1), whole(request.GET.get("cases", ""), 1)
    return case_labels(number, first=first, cases=cases)


def _page(request: HttpRequest, refused: str = "", status: int = 200) -> HttpResponse:
    shown = {name: request.GET.get(name, "")[:LONGEST] for name in ("number", "first", "cases")}
    context = {"area": "records", "refused": refused, "shown": shown, "a_sheet": A_SHEET, "on": request.GET.get("on")}
    return render(request, "labels/asked.html", context, status=status)
