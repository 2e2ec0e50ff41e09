"""What every page of an enquiry needs: who asks, which enquiry, and the plain page of one act."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from distillery.drafts.showing import of_page
from distillery.people.models import Person
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import Standing, standing_of
from ledger.views.enquiries.forms import EnquiryForm
from ledger.views.ways import books_places


def signed_on(request: HttpRequest) -> Person:
    """The person whose page this is."""
    if not isinstance(request.user, Person):
        raise TypeError("A page of the books was opened without signing on.")
    return request.user


def standing_or_404(number: str) -> Standing:
    """The enquiry of a number in an address, in any case. Raises Http404."""
    enquiry = Enquiry.objects.select_related("opened_by").filter(number__iexact=number).first()
    if enquiry is None:
        raise Http404(f"There is no enquiry {number}.")
    return standing_of(enquiry)


def to_enquiry(enquiry: Enquiry) -> HttpResponse:
    """Back to the enquiry's own page."""
    return redirect("enquiry", number=enquiry.number)


def act_page(request: HttpRequest, form: EnquiryForm, *, heading: str, **more: object) -> HttpResponse:
    """The page of one act: its boxes, what it does, and the way back."""
    draft = of_page(request, form, heading)
    return render(
        request,
        "ledger/enquiry_act.html",
        {
            "area": "books",
            "places": books_places("findings"),
            "form": form,
            "heading": heading,
            "drafting": draft,
            **more,
        },
    )
