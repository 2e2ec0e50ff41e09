"""Pages of the instruments: all may read them; plant keepers enter instruments, certificates and calibrations, and
whoever writes records may sign an obscuration."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from distillery.clock.reading import books_today
from distillery.lists.showing import first_file, listed
from distillery.pages import Link
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, WRITERS, holds, needs
from distillery.plant.forms import (
    CalibrationForm,
    CertificateForm,
    InstrumentForm,
    ObscurationForm,
    PlantForm,
    UseForm,
)
from distillery.plant.outfit import Register
from distillery.plant.printed import register_pdf
from distillery.plant.shown import register_lists

# Address, form, and who may fill it in.
ENTRIES: dict[str, tuple[type[PlantForm], frozenset[str]]] = {
    "instrument_new": (InstrumentForm, PLANT_KEEPERS),
    "instrument_use": (UseForm, PLANT_KEEPERS),
    "instrument_certificate": (CertificateForm, PLANT_KEEPERS),
    "vessel_calibration": (CalibrationForm, PLANT_KEEPERS),
    "obscuration_new": (ObscurationForm, WRITERS | PLANT_KEEPERS),
}


@require_safe
def instruments(request: HttpRequest) -> HttpResponseBase:
    """All that is known of the measuring."""
    register, today = Register.read(), books_today()
    lists = [
        listed(request, kind, rows, prefix=kind.name, register=register, on=today)
        for kind, rows in register_lists(register, today)
    ]
    if (file := first_file(*lists)) is not None:
        return file
    ways = [Link(form.title, reverse(name)) for name, (form, roles) in ENTRIES.items() if holds(request.user, roles)]
    return render(
        request,
        "plant/instruments.html",
        {"area": "plant", "lists": [one.table for one in lists], "ways": ways},
    )


@require_safe
def instruments_pdf(request: HttpRequest) -> HttpResponse:
    """The register on paper."""
    printed = register_pdf(printed_at=timezone.now(), printed_by=_person(request).shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="instruments.pdf"'
    return response


def enter(request: HttpRequest, name: str) -> HttpResponseBase:
    """One of the forms: shown, or what was typed in it entered."""
    kind, roles = ENTRIES[name]

    @needs(roles)
    def entered(request: HttpRequest) -> HttpResponse:
        form = kind(request.POST) if request.method == "POST" else kind(initial=request.GET.dict())
        if form.is_bound and form.is_valid():
            said = form.keep(_person(request))
            if said:
                messages.success(request, said)
                return redirect("instruments")
        return render(
            request,
            "plant/entry.html",
            {"area": "plant", "form": form, "cancel": reverse("instruments")},
        )

    return entered(request)


def _person(request: HttpRequest) -> Person:
    assert isinstance(request.user, Person)
    return request.user
