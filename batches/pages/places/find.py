"""The find box: a number, a name or a scanned code leads to its page; several that fit make a list."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from batches.pages.places.finding import found
from distillery.labels.scanned import MARK, Unscannable, number_of

# No number, code or name is longer; a longer text was put here by mistake.
LONGEST = 120


def find(request: HttpRequest) -> HttpResponse:
    """What the text of the box leads to."""
    text = request.GET.get("q", "").strip()
    if len(text) > LONGEST:
        return render(request, "batches/find.html", {"area": "", "find": "", "too_long": len(text), "most": LONGEST})
    links = found(text)
    if not links and MARK in text:
        try:
            links = found(number_of(text))
        except Unscannable as refused:
            return render(request, "batches/find.html", {"area": "", "find": text, "misread": str(refused)})
    if len(links) == 1:
        return redirect(links[0].href)
    return render(request, "batches/find.html", {"area": "", "find": text, "found": links})
