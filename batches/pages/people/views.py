"""People of the site: the list, one person with what was done about them, and the forms that do it."""

from __future__ import annotations

from typing import Any, Final

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_safe

from batches.pages.common import signed_on
from batches.pages.people.forms import BackForm, EndForm, PasswordForm, PeopleForm, PersonForm, RolesForm
from batches.pages.places.rule_tables import PeopleTable
from batches.pages.setting_up.views import then_of
from batches.pages.setting_up.ways import site_places
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.showing import listed
from distillery.lists.tables import HouseTable
from distillery.pages import Fact, Link
from distillery.people.changes import PersonChange
from distillery.people.keeping import roles_of
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, SITE_READERS, holds, needs

# What may be done about somebody: its form, by the word in its address.
ABOUT: Final[dict[str, type[PeopleForm]]] = {
    "roles": RolesForm,
    "password": PasswordForm,
    "end": EndForm,
    "back": BackForm,
}


class ChangeTable(HouseTable):
    """What was done about people."""

    at = MomentColumn("When", "at", order=("pk",))
    person = ListColumn("Name", lambda row: row.person.shown_name, href=lambda row: _href(row.person))
    what = ListColumn("What", lambda row: row.get_what_display())
    roles = ListColumn("Roles from then on", "roles", none="none")
    why = ListColumn("Why", "reason", none="not said")
    by = ListColumn("By", lambda row: row.by.shown_name if row.by else None, none="a command")

    name, caption = "changes", "What was done about people"
    nothing = "Nothing is written down: they were made before this list was kept."

    class Meta(HouseTable.Meta):
        order_by = ("-at",)


@require_safe
@needs(SITE_READERS)
def people(request: HttpRequest) -> HttpResponseBase:
    """Everybody, and everything that was done about anybody."""
    everybody = listed(request, PeopleTable, Person.objects.prefetch_related("groups"), prefix=PeopleTable.name)
    done = listed(request, ChangeTable, _changes(), prefix=ChangeTable.name)
    for one in (everybody, done):
        if one.file is not None:
            return one.file
    return render(
        request,
        "setting_up/people.html",
        {
            "area": "site",
            "places": site_places("people"),
            "lists": [everybody.table, done.table],
            "keeps": _keeps(request),
        },
    )


@require_safe
@needs(SITE_READERS)
def person(request: HttpRequest, username: str) -> HttpResponseBase:
    """One person: what they may do, what was done about them, and the ways to do more."""
    somebody = _somebody(username)
    done = listed(request, ChangeTable, _changes().filter(person=somebody), exclude=("person",))
    if done.file is not None:
        return done.file
    possible = [what for what in ABOUT if (what == "back") != somebody.is_active] if _keeps(request) else []
    return render(
        request,
        "setting_up/person.html",
        {
            "area": "site",
            "places": site_places("people"),
            "somebody": somebody,
            "facts": [
                Fact("Signs on as", somebody.username),
                Fact("Roles", ", ".join(roles_of(somebody)) or "none"),
                Fact("Now", "may sign on" if somebody.is_active else "may no longer sign on"),
            ],
            "ways": [Link(ABOUT[what].title, reverse("person_about", args=[username, what])) for what in possible],
            "list": done.table,
        },
    )


@sensitive_post_parameters()
@sensitive_variables()
@needs(PLANT_KEEPERS)
def person_new(request: HttpRequest) -> HttpResponse:
    """Somebody new on the site."""
    return _form(request, PersonForm, None, reverse(then_of(request) or "people"))


@sensitive_post_parameters()
@sensitive_variables()
@needs(PLANT_KEEPERS)
def person_about(request: HttpRequest, username: str, what: str) -> HttpResponse:
    """One thing that may be done about somebody."""
    if what not in ABOUT:
        raise Http404("There is no such form.")
    somebody = _somebody(username)
    return _form(request, ABOUT[what], somebody, _href(somebody))


def _form(request: HttpRequest, kind: type[PeopleForm], somebody: Person | None, back: str) -> HttpResponse:
    begins: dict[str, Any] = {"roles": roles_of(somebody)} if somebody is not None else {}
    form = kind(request.POST) if request.method == "POST" else kind(initial=begins)
    if form.is_bound and form.is_valid() and (said := form.keep(somebody, signed_on(request))):
        messages.success(request, said)
        return redirect(back)
    title = f"{form.title}: {somebody.shown_name}" if somebody is not None else form.title
    context = {"area": "site", "form": form, "title": title, "cancel": back}
    return render(request, "setting_up/person_form.html", context)


def _keeps(request: HttpRequest) -> bool:
    return holds(request.user, PLANT_KEEPERS)


def _changes() -> QuerySet[PersonChange]:
    return PersonChange.objects.select_related("person", "by")


def _somebody(username: str) -> Person:
    found = Person.objects.filter(username=username).first()
    if found is None:
        raise Http404("Nobody signs on by that name.")
    return found


def _href(somebody: Person) -> str:
    return reverse("person", args=[somebody.username])
