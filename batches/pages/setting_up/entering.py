"""The form for a new dated figure: entered at once, agreed to in place by a second person, or kept until one agrees."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from batches.pages.common import signed_on
from batches.pages.setting_up import asked as _forms  # noqa: F401
from batches.pages.setting_up.asked import boxes_sent
from batches.pages.setting_up.declared import FORMS, SETTINGS, FigureForm, setting_of
from batches.pages.setting_up.law_forms import KINDS
from batches.pages.setting_up.views import then_of
from distillery.drafts import keeping
from distillery.drafts import showing as drafts
from distillery.drafts.pc import this_pc
from distillery.pen.trying.again import NotShown, second_of
from distillery.people.roles import PLANT_KEEPERS, needs
from distillery.rules.setting import two_hands
from distillery.rules.setting.entering import Unsettable

# The longest number of a row that an address may name.
LONGEST = 18


@needs(PLANT_KEEPERS)
def site_setting_new(request: HttpRequest, kind: str) -> HttpResponse:
    """The form for a new row: shown, beginning with the row that is to be set anew, or what was typed in it kept."""
    setting_of(kind)
    then = then_of(request)
    back = reverse(then) if then else reverse("site_setting", args=[kind])
    return _page(request, kind, back, _begins_with(kind, request))


@needs(PLANT_KEEPERS)
def enter(request: HttpRequest, name: str) -> HttpResponse:
    """One of the forms whose figures Site lists."""
    return _page(request, KINDS[name], reverse("site"), {})


def _page(request: HttpRequest, kind: str, back: str, initial: dict[str, Any]) -> HttpResponse:
    form = FORMS[kind](request.POST) if request.method == "POST" else FORMS[kind](initial=initial)
    two = form.two_hands and two_hands.needed()
    path = _drafted_at(request)
    if form.is_bound and form.is_valid() and _sent(request, kind, form):
        if (pc := this_pc(request)) is not None:
            keeping.let_go(keeping.Which(pc, drafts.key_of_page(path)))
        return redirect(back)
    return render(
        request,
        "batches/site_entry.html",
        {
            "area": "site",
            "form": form,
            "cancel": back,
            "drafting": drafts.of_page(request, form, form.title, path),
            "second": two,
            "one_writer": two_hands.one_writer() if two else "",
        },
    )


def _sent(request: HttpRequest, kind: str, form: FigureForm) -> bool:
    person = signed_on(request)
    try:
        second = second_of(request) if form.two_hands else None
        asked = two_hands.ask(kind, boxes_sent(form), put=form.put, person=person, second=second, two=form.two_hands)
    except Unsettable as refusal:
        form.refused(refusal)
        return False
    except NotShown as error:
        form.add_error(None, error.sentence)
        return False
    if asked.row is not None:
        by = f" {second.shown_name} agreed." if second is not None and two_hands.needed() else ""
        messages.success(request, f"{form.done(asked.row)}{by}")
    else:
        messages.success(
            request, "Waits for a second person, 1 of 2. Until somebody else agrees, what held before holds."
        )
    return True


def _drafted_at(request: HttpRequest) -> str:
    """What is typed to set one row anew is not what was typed for another."""
    row = _row_asked(request)
    return f"{request.path}{row}/" if row else request.path


def _row_asked(request: HttpRequest) -> str:
    asked = request.GET.get("row", "")
    return asked if asked.isascii() and asked.isdigit() and len(asked) <= LONGEST else ""


def _begins_with(kind: str, request: HttpRequest) -> dict[str, Any]:
    if not (asked := _row_asked(request)):
        return {}
    setting = SETTINGS[kind]
    row = setting.model._default_manager.filter(pk=int(asked)).first()
    return {} if row is None else dict(setting.form.as_it_stands(row))
