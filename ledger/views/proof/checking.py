"""The page on which a digest from paper is checked against the books. Whoever has signed on may; it writes nothing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from distillery.pages import Kind, State
from distillery.printing.furniture import grouped
from ledger.proof.checking import Asked, Checked, NoDigest, read_digest
from ledger.proof.paper.answering import answer
from ledger.proof.paper.slips import Slip
from ledger.views.ways import books_places

AGREES = State(Kind.LOCKED, "This page agrees with the books")
APART = State(Kind.OUT, "This page does not agree with the books")


class DigestForm(forms.Form):
    """The digest, and the number at the head of the page."""

    digest = forms.CharField(
        label="Digest",
        max_length=200,
        help_text="From the foot of the page, such as 9f3c 71d0 44ab e802. Spaces and capitals make no difference.",
        error_messages={"required": "Digest is blank; type or scan what stands at the foot of the page."},
    )
    number = forms.CharField(
        label="Number on the page",
        max_length=40,
        required=False,
        help_text="From the head of a printed record or account, such as SR0007 or MS-2027-03.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, width in (("digest", 40), ("number", 12)):
            self.fields[name].width = width  # type: ignore[attr-defined]
            self.fields[name].widget.attrs |= {"autocomplete": "off", "spellcheck": "false"}
        if not self.is_bound:
            self.fields["digest"].widget.attrs["autofocus"] = True

    def clean_digest(self) -> str:
        try:
            return read_digest(self.cleaned_data["digest"])
        except NoDigest as wrong:
            raise forms.ValidationError(str(wrong)) from wrong

    def clean_number(self) -> str:
        """As printed: without the version that may stand behind it."""
        typed: str = self.cleaned_data["number"]
        return typed.partition(",")[0].strip()


def check_digest(request: HttpRequest) -> HttpResponse:
    """What the digest belongs to, and whether the page it stands on agrees with the books."""
    form = DigestForm(request.GET) if "digest" in request.GET else DigestForm()
    asked, found, slips = None, [], list[Slip]()
    if form.is_bound and form.is_valid():
        asked = Asked(form.cleaned_data["digest"], form.cleaned_data["number"])
        told = answer(asked)
        found, slips = [_shown(one) for one in told.found], list(told.slips)
    return render(
        request,
        "ledger/check_digest.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("check_digest"),
            "form": form,
            "asked": asked,
            "short": grouped(asked.digest) if asked else "",
            "found": found,
            "slips": slips,
        },
    )


def _shown(one: Checked) -> dict[str, Any]:
    return {"checked": one, "state": AGREES if one.agrees else APART, "short": grouped(one.digest)}
