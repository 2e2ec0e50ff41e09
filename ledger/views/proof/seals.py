"""The seals of the books on a page: the last one, a look for any noted elsewhere, and what is recorded as lost."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone

from distillery.database.retrying import Busy
from distillery.figures import count, moment
from distillery.lists.showing import listed
from distillery.pages import Fact, Kind, State
from distillery.people.models import Person
from distillery.people.roles import CLOSERS, holds
from distillery.seals.lookup import WHAT_IT_SHOWS, gaps, last_seal, said_of
from distillery.seals.losing import NoGap, record_gap
from distillery.seals.models import BooksSeal, PutBack, SealGap
from distillery.seals.noted import Noted
from ledger.enquiries.opening import Unanswerable
from ledger.proof.checking import NoDigest, read_digest
from ledger.proof.noted import look_for
from ledger.views.enquiries.forms import Box, SecondForm
from ledger.views.lists.periods import SealTable
from ledger.views.ways import books_places

DAYS_SHOWN = 31
STANDS = State(Kind.LOCKED, "It stands in these books")
DOES_NOT = State(Kind.OUT, "It does not stand in these books")


class NotedForm(forms.Form):
    """A seal from paper or a file."""

    seal = forms.CharField(
        label="Noted seal",
        max_length=200,
        help_text="From the foot of a printed page or a file of seals. Spaces and capitals make no difference.",
        error_messages={"required": "Noted seal is blank; type or scan it from the paper."},
    )

    def clean_seal(self) -> str:
        try:
            return read_digest(self.cleaned_data["seal"])
        except NoDigest as wrong:
            raise forms.ValidationError(str(wrong).replace("Digest has", "Seal has")) from wrong


class GapForm(SecondForm):
    """What paper holds and these books lack, and the second person's signature."""

    noted_number = Box(label="Number of the newest seal on paper", width=12, help_text="It stands before its day.")
    noted_seal = Box(label="That seal", width=40, help_text="As printed, or as much of it as the paper has.")
    noted_on = Box(label="Its day", width=12, widget=forms.DateInput({"type": "date"}))
    reason = Box(label="Which copy was put back, and why", width=60)
    field_order = ("noted_number", "noted_seal", "noted_on", "reason", "username", "password")

    def record(self, request: HttpRequest, person: Person) -> SealGap:
        """Records it. Raises NoGap, Unanswerable, Busy."""
        number = self.text("noted_number").replace(",", "")
        if not (number.isascii() and number.isdigit() and len(number) <= 15):
            raise NoGap("Write the number as printed, in figures only.", field="noted_number")
        try:
            noted_seal = read_digest(self.text("noted_seal"))
            noted_on = forms.DateField().clean(self.text("noted_on"))
        except NoDigest as wrong:
            raise NoGap(str(wrong).replace("Digest is", "Seal is"), field="noted_seal") from wrong
        except forms.ValidationError as wrong:
            raise NoGap("Write the day as 2027-03-31.", field="noted_on") from wrong
        return record_gap(
            noted_number=int(number),
            noted_seal=noted_seal,
            noted_on=noted_on,
            reason=self.text("reason"),
            person=person,
            second=self.second(request),
        )


def seals(request: HttpRequest) -> HttpResponseBase:
    """The page; a manager records on it what is lost, with a second person."""
    person = request.user
    assert isinstance(person, Person)
    may_record = holds(person, CLOSERS)
    form = GapForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        if not may_record:
            raise PermissionDenied("A manager records lost seals with a second person; ask one of them.")
        try:
            form.record(request, person)
        except (NoGap, Unanswerable) as error:
            field = "username" if error.field == "second" else error.field
            form.add_error(field if field in form.fields else None, error.sentence)
        except Busy as error:
            form.add_error(None, error.sentence)
        else:
            messages.success(request, "The gap is recorded; proof and prints say so from now on.")
            return redirect("seals")
    asking = NotedForm(request.GET) if "seal" in request.GET else NotedForm()
    found = _found(asking)
    last = last_seal()
    by_day = listed(request, SealTable, _by_day(), prefix="day")
    if by_day.file is not None:
        return by_day.file
    return render(
        request,
        "ledger/seals.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("seals"),
            "what_it_shows": WHAT_IT_SHOWS,
            "facts": _facts(last) if last is not None else [],
            "asking": asking,
            "found": found,
            "found_state": (STANDS if found.stands else DOES_NOT) if found is not None else None,
            "gaps": [said_of(gap) for gap in gaps()],
            "copies": _copies(),
            "by_day": by_day.table,
            "form": form,
            "may_record": may_record,
        },
    )


def _found(asking: NotedForm) -> Noted | None:
    return look_for(asking.cleaned_data["seal"]) if asking.is_bound and asking.is_valid() else None


def _facts(last: BooksSeal) -> list[Fact]:
    return [
        Fact("Last seal of the books", count(last.number)),
        Fact("Made", moment(last.made_at, year=True)),
        Fact("Seal", last.seal),
        Fact("It covers movements up to", count(last.movement)),
        Fact("and entries of the trail up to", count(last.entry)),
    ]


def _copies() -> list[str]:
    return [
        f"{one.copy}, put back {moment(one.at, year=True)}; its last seal was {count(one.number)}."
        for one in PutBack.objects.order_by("-pk")[:DAYS_SHOWN]
    ]


def _by_day() -> list[BooksSeal]:
    """The last seal of each of the newest days: one step along the index for each."""
    found: list[BooksSeal] = []
    one = last_seal()
    while one is not None and len(found) < DAYS_SHOWN:
        found.append(one)
        begins = timezone.localtime(one.made_at).replace(hour=0, minute=0, second=0, microsecond=0)
        one = BooksSeal.objects.filter(made_at__lt=begins, number__lt=one.number).order_by("-number").first()
    return found
