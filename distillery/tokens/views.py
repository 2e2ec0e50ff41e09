"""Pages of the tokens: an administrator makes one for a program, sees it once, and ends it."""

from __future__ import annotations

from typing import Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from distillery.lists.showing import listed
from distillery.people.models import Person
from distillery.people.roles import ADMINISTRATOR, needs
from distillery.plant.forms.boxes import Words
from distillery.tokens import keeping
from distillery.tokens.lists import TokenTable
from distillery.tokens.models import ConsumerToken

ADMINISTRATORS: Final = frozenset({ADMINISTRATOR})
_LONGEST_NUMBER: Final = 18


class NameForm(forms.Form):
    """For which program a token is."""

    name = Words(
        "Program that will read", longest=keeping.LONGEST_NAME, help_text="As people call it: accounts in the office."
    )


class EndForm(forms.Form):
    """Why a token is ended."""

    token = forms.IntegerField(widget=forms.HiddenInput)
    reason = Words("Why it is ended", longest=keeping.LONGEST_REASON, help_text="Such as: the program was exchanged.")


@needs(ADMINISTRATORS)
@require_safe
def tokens(request: HttpRequest) -> HttpResponseBase:
    """Every token, and what is read with one."""
    rows = ConsumerToken.objects.select_related("made_by", "ended", "ended__by")
    found = listed(request, TokenTable, rows)
    return found.file or render(request, "tokens/tokens.html", {"area": "site", "list": found.table})


@needs(ADMINISTRATORS)
def token_new(request: HttpRequest) -> HttpResponse:
    """Makes a token and shows it this once."""
    form = NameForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            made = keeping.make(name=form.cleaned_data["name"], person=_person(request))
        except keeping.Unfit as unfit:
            form.add_error(unfit.field, unfit.sentence)
        else:
            return render(request, "tokens/made.html", {"area": "site", "made": made})
    shown = {
        "area": "site",
        "form": form,
        "title": "Make a token",
        "lead": "Whoever has the token reads balances, months and movements of these books, and can change nothing. "
        "It is shown once, on the next page.",
        "cancel": reverse("tokens"),
    }
    return render(request, "tokens/form.html", shown, status=400 if form.is_bound else 200)


@needs(ADMINISTRATORS)
def token_end(request: HttpRequest) -> HttpResponse:
    """Ends a token, with the reason."""
    asked = request.POST.get("token", "") or request.GET.get("token", "")
    if not asked.isascii() or not asked.isdigit() or len(asked) > _LONGEST_NUMBER:
        return redirect("tokens")
    token = get_object_or_404(ConsumerToken, pk=int(asked))
    form = EndForm(request.POST if request.method == "POST" else None, initial={"token": token.pk})
    if form.is_bound and form.is_valid():
        try:
            keeping.end(token, reason=form.cleaned_data["reason"], person=_person(request))
        except keeping.Unfit as unfit:
            form.add_error(unfit.field, unfit.sentence)
        else:
            messages.success(request, f"The token of {token.name} is ended: nothing is read with it any more.")
            return redirect("tokens")
    shown = {
        "area": "site",
        "form": form,
        "title": f"End the token of {token.name}",
        "lead": "It ends at once. A program that still uses it is refused.",
        "cancel": reverse("tokens"),
    }
    return render(request, "tokens/form.html", shown, status=400 if form.is_bound else 200)


def _person(request: HttpRequest) -> Person:
    assert isinstance(request.user, Person)
    return request.user
