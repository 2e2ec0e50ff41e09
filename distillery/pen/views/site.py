"""What a manager sets up for the pen: enrolling this PC, ending one, a PIN for somebody, an officer's pass."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from distillery import figures
from distillery.pen import pcs
from distillery.pen.hands import short_name
from distillery.pen.lasting import at_this_pc
from distillery.pen.models import EnrolledPC
from distillery.pen.trying import passes, pins
from distillery.pen.trying.taking import person_named, proven
from distillery.pen.trying.tries import Refused
from distillery.people.models import Person
from distillery.people.roles import EXPLAINERS, PLANT_KEEPERS, WRITERS, holds, needs
from distillery.plant.forms.boxes import Day, Words

CHOSEN = {"autocomplete": "off", "inputmode": "numeric"}


class EnrolForm(forms.Form):
    """The name and place of the PC that the page is open at."""

    name = Words("Name of this PC", longest=60, help_text="As people call it: Still house PC.")
    place = forms.ChoiceField(
        label="Where it stands",
        choices=[(place, f"{place}: locks after {minutes} min") for place, minutes in pcs.IDLE_MINUTES.items()],
    )
    idle_minutes = forms.IntegerField(
        label="Locks after",
        required=False,
        help_text="2 to 30; left blank, that of the place.",
        widget=forms.TextInput({"inputmode": "numeric", "autocomplete": "off"}),
    )
    idle_minutes.unit, idle_minutes.width = "min", 4  # type: ignore[attr-defined]


class PinForm(forms.Form):
    """A PIN typed twice; with the name and PIN of a second person where no manager is there."""

    pin = forms.CharField(label="PIN", help_text="Six figures of your own.", widget=forms.PasswordInput(CHOSEN))
    again = forms.CharField(label="The same again", widget=forms.PasswordInput(CHOSEN))
    second_name = forms.CharField(
        label="Name of the second who is here", required=False, widget=forms.TextInput({"autocomplete": "off"})
    )
    second_password = forms.CharField(
        label="PIN or password of the second", required=False, widget=forms.PasswordInput({"autocomplete": "off"})
    )

    def __init__(self, data: Any = None, *, alone: bool) -> None:
        super().__init__(data)
        if alone:
            del self.fields["second_name"], self.fields["second_password"]
        for field in self.fields.values():
            field.error_messages["required"] = "This is blank: fill it in."


class PassForm(forms.Form):
    """For whom a pass is, and until when."""

    username = Words("Name to sign on with", longest=40, help_text="Small letters, such as r.alder.")
    name = Words("Name shown", longest=120, required=False, help_text="First and last name.")
    last_day = Day("Last day", required=False, help_text="As 2027-03-04; left blank, the pass ends with today.")


@needs(PLANT_KEEPERS)
def pc_enrol(request: HttpRequest) -> HttpResponse:
    """Enrols the PC that the page is open at, whose session must have been opened with a password."""
    person, here = _person(request), pcs.pc_of(request)
    form = EnrolForm(request.POST if request.method == "POST" else None)
    if here is not None:
        messages.info(request, f"This is {here.name} already.")
        return redirect("site")
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        minutes = given["idle_minutes"] or pcs.IDLE_MINUTES[given["place"]]
        try:
            pc, token = pcs.enrol(person=person, name=given["name"], place=given["place"], idle_minutes=minutes)
        except pcs.NotEnrolled as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)
        else:
            pcs.enrolled_now(request, pc, token)
            at_this_pc(request)
            messages.success(request, f"{pc.name} is enrolled: a PIN is enough here, and it locks after {minutes} min.")
            response = redirect("first_month" if request.GET.get("then") == "first_month" else "site")
            pcs.remember(response, token)
            return response
    return _form(
        request,
        form,
        "Enrol this PC",
        "Do this at the PC itself. A PIN works at enrolled PCs alone, so enrol none that stands where strangers come.",
    )


@needs(PLANT_KEEPERS)
def pc_end(request: HttpRequest) -> HttpResponse:
    """Ends an enrolment; sessions at that PC end with it."""
    asked = request.POST.get("pc", "") or request.GET.get("pc", "")
    if not asked.isascii() or not asked.isdigit() or len(asked) > 18:
        return redirect("site")
    pc = get_object_or_404(EnrolledPC, pk=int(asked))
    if request.method == "POST":
        pcs.end(pc, person=_person(request))
        messages.success(request, f"{pc.name} is enrolled no longer; no PIN works there.")
        return redirect("site")
    return render(request, "pen/end.html", {"area": "site", "what": pc.name, "box": "pc", "value": pc.pk})


@sensitive_post_parameters()
@sensitive_variables()
@needs(WRITERS)
def pin_choose(request: HttpRequest) -> HttpResponse:
    """Lets a person choose a PIN: a manager is signed on, or one who writes and a second beside."""
    person = _person(request)
    chooses = person_named(request.POST.get("name", "") or request.GET.get("name", ""))
    alone = holds(person, PLANT_KEEPERS)
    if chooses is None:
        return _whose(request)
    form = PinForm(request.POST if request.method == "POST" else None, alone=alone)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            second = None
            if given.get("second_name") and given.get("second_password"):
                second = proven(request, given["second_name"], given["second_password"])
            pins.choose(chooses, given["pin"], given["again"], present=person, also_present=second)
        except pins.NotChosen as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)
        except Refused as refused:
            form.add_error("second_name", refused.sentence)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{chooses.shown_name} has a PIN now. It works at enrolled PCs.")
            return redirect("site" if alone else "shift")
    return render(
        request,
        "pen/pin.html",
        {
            "area": "site",
            "form": form,
            "chooses": chooses,
            "alone": alone,
            "cancel": reverse("site" if alone else "shift"),
        },
    )


def _whose(request: HttpRequest) -> HttpResponse:
    """Whose PIN it is to be, to choose from."""
    people = Person.objects.filter(is_active=True).order_by("first_name", "username")
    ways = [(f"Let {short_name(one)} choose a PIN", f"{reverse('pin_choose')}?name={one.username}") for one in people]
    return render(request, "pen/whose.html", {"area": "site", "ways": ways})


@needs(EXPLAINERS)
def pass_make(request: HttpRequest) -> HttpResponse:
    """Makes an officer's pass, and shows its password once."""
    form = PassForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            made = passes.make(person=_person(request), **given)
        except passes.NoPass as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)
        else:
            until = figures.moment(made.given.ends_at, year=True)
            return render(request, "pen/pass_made.html", {"area": "site", "made": made, "until": until})
    return _form(
        request,
        form,
        "Make an officer's pass",
        "Leave to read and print everything and write nothing. It ends by itself; making it and signing on are kept.",
    )


def _form(request: HttpRequest, form: forms.Form, title: str, lead: str) -> HttpResponse:
    context = {"area": "site", "form": form, "title": title, "lead": lead, "cancel": reverse("site")}
    return render(request, "pen/form.html", context)


def _person(request: HttpRequest) -> Person:
    if not isinstance(request.user, Person):
        raise Http404
    return request.user
