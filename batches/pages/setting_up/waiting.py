"""What waits for a second person of the site's figures: the list, and the page on which one agrees or refuses."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from batches.pages.common import signed_on
from batches.pages.setting_up.asked import as_asked, as_signed, boxes_sent, compared, form_of, lines, what_is_asked
from batches.pages.setting_up.declared import FORMS, SETTINGS
from batches.pages.setting_up.ways import site_places
from distillery import signed
from distillery.database.retrying import Busy
from distillery.figures import moment
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.showing import listed
from distillery.lists.tables import HouseTable
from distillery.pages import ONE_OF_TWO, Fact, State, Table
from distillery.pages import Kind as Mark
from distillery.pen.trying.again import NotShown, second_of
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, WRITERS, holds, may_write, needs
from distillery.plant.forms.boxes import Words
from distillery.rules.setting import two_hands
from distillery.rules.setting.entering import Unsettable
from distillery.rules.site_facts import FigureAsked
from ledger.views.enquiries.signing import moved_table

REFUSED, AGREED, WAITS = "refused", "agreed to", "waits"


class RefuseForm(forms.Form):
    """Why it is refused, or taken back."""

    use_required_attribute = False
    reason = Words("Why", help_text="In a few words; whoever asked reads it.")


class FiguresAskedTable(HouseTable):
    """What was asked for of the site's figures, and what became of it; the newest first."""

    what = ListColumn("What", lambda row: row.what, href=lambda row: reverse("figure_waiting", args=[row.pk]))
    asked_by = ListColumn("Asked for by", lambda row: row.person.shown_name)
    asked_at = MomentColumn("Asked", lambda row: row.asked_at)
    state = ListColumn("State", lambda row: row.became, state=lambda row: ONE_OF_TWO if row.became == WAITS else None)
    by = ListColumn("By", lambda row: row.by, none="nobody yet")
    why = ListColumn("Why refused", lambda row: row.why, none="-")

    name, caption = "asked", "Figures asked for"
    nothing = "No figure was asked for that needs a second person."

    class Meta(HouseTable.Meta):
        order_by = ()

    def prepare(self, rows: Any) -> None:
        for row in rows:
            row.what = what_is_asked(row)
            answered = getattr(row, "answered", None)
            row.became = WAITS if answered is None else AGREED if answered.agreed else REFUSED
            row.by = "" if answered is None else answered.person.shown_name
            row.why = "" if answered is None else answered.reason


@require_safe
def figures_waiting(request: HttpRequest) -> HttpResponseBase:
    """All that was asked for, what waits among it."""
    asked = FigureAsked.objects.select_related("person", "answered__person").order_by("-pk")
    alone = two_hands.one_writer()
    rows = listed(request, FiguresAskedTable, asked, on_paper=alone)
    if rows.file is not None:
        return rows.file
    context = {
        "area": _area(request),
        "places": site_places("figures_waiting"),
        "list": rows.table,
        "one_writer": alone,
    }
    return render(request, "setting_up/figures_waiting.html", context)


@require_safe
def figure_waiting(request: HttpRequest, number: int) -> HttpResponse:
    """One figure that was asked for: what holds and what would, and how a second person agrees or refuses."""
    return _page(request, _asked_or_404(number), RefuseForm())


@needs(WRITERS)
def figure_agree(request: HttpRequest, number: int) -> HttpResponse:
    """A second person agrees, in place or at a PC of their own."""
    asked = _asked_or_404(number)
    if request.method != "POST":
        return redirect("figure_waiting", number=number)
    moved = None
    try:
        second = second_of(request) or signed_on(request)
        form = form_of(asked)
        two_hands.refuse_moved(request.POST.get(signed.SEEN, ""), as_signed(lines(form)))
        if not form.is_valid():
            raise Unsettable("", "It can no longer be read as it was typed: refuse it, and let it be asked for anew.")
        row = two_hands.agree(asked, put=form.put, second=second)
    except signed.MovedOn as error:
        messages.error(request, error.sentence)
        moved = moved_table(request.POST, error)
    except (Unsettable, NotShown, Busy) as error:
        messages.error(request, error.sentence)
    else:
        messages.success(request, f"{form.done(row)} {second.shown_name} agreed.")
        return redirect(_list_of(asked))
    return _page(request, asked, RefuseForm(), moved)


@needs(WRITERS)
def figure_refuse(request: HttpRequest, number: int) -> HttpResponse:
    """It is refused, or taken back by who asked, with a reason."""
    asked = _asked_or_404(number)
    if request.method != "POST":
        return redirect("figure_waiting", number=number)
    form = RefuseForm(request.POST)
    if form.is_valid():
        try:
            two_hands.refuse(asked, person=signed_on(request), reason=form.cleaned_data["reason"])
        except Unsettable as refusal:
            if refusal.field in form.fields:
                form.add_error(refusal.field, refusal.sentence)
            else:
                messages.error(request, refusal.sentence)
        else:
            done = "Taken back" if asked.person_id == signed_on(request).pk else "Refused"
            messages.success(request, f"{done}: what held before holds.")
            return redirect(_list_of(asked))
    return _page(request, asked, form)


def _page(request: HttpRequest, asked: FigureAsked, form: forms.Form, moved: Table | None = None) -> HttpResponse:
    person = request.user
    assert isinstance(person, Person)
    typed = form_of(asked)
    found = lines(typed)
    answered = getattr(FigureAsked.objects.select_related("answered__person").get(pk=asked.pk), "answered", None)
    may = may_write(person) and answered is None
    own = asked.person_id == person.pk
    facts = [Fact("Asked for by", f"{asked.person.shown_name}, {moment(asked.asked_at, year=True)}")]
    if why := boxes_sent(typed).get("reason", "").strip():
        facts.append(Fact("Why", why))
    if answered is not None:
        refused = "Taken back by" if answered.person_id == asked.person_id else "Refused by"
        said = "Agreed to by" if answered.agreed else refused
        facts.append(Fact(said, f"{answered.person.shown_name}, {moment(answered.answered_at, year=True)}"))
        if answered.reason:
            facts.append(Fact("Because", answered.reason))
    return render(
        request,
        "setting_up/figure_waiting.html",
        {
            "area": _area(request),
            "places": site_places("figures_waiting"),
            "title": what_is_asked(asked),
            "asked": asked,
            "answered": answered,
            "state": ONE_OF_TWO if answered is None else State(Mark.LOCKED, "Answered"),
            "facts": facts,
            "table": compared(found) if answered is None else as_asked(found),
            "moved": moved,
            "may_agree": may and not own,
            "may_take_back": may and own,
            "seen": signed.carried(as_signed(found)) if may else None,
            "form": form,
            "one_writer": two_hands.one_writer() if answered is None else "",
        },
    )


def _area(request: HttpRequest) -> str:
    return "site" if holds(request.user, PLANT_KEEPERS) else "records"


def _asked_or_404(number: int) -> FigureAsked:
    found = FigureAsked.objects.select_related("person").filter(pk=number).first()
    if found is None or found.kind not in FORMS:
        raise Http404("No such figure was asked for.")
    return found


def _list_of(asked: FigureAsked) -> str:
    return reverse("site_setting", args=[asked.kind]) if asked.kind in SETTINGS else reverse("figures_waiting")
