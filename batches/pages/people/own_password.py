"""The page on which people give themselves another password."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from batches.pages.common import signed_on
from batches.pages.people.forms import PeopleForm
from distillery.pen.trying.taking import prove_password
from distillery.pen.trying.tries import Refused
from distillery.people import keeping
from distillery.people.models import Person
from distillery.people.password_boxes import again, new_password, secret
from distillery.people.roles import WRITERS, needs


class OwnPasswordForm(PeopleForm):
    """The password now, and the new one twice."""

    title = "Change your password"
    lead = "Your sessions at other PCs end; this one goes on. Your PIN stays as it is."
    submit = "Save password"

    password_now = secret("Password now", autocomplete="current-password")
    password = new_password("New password")
    password_again = again()

    def __init__(self, request: HttpRequest, data: Any = None) -> None:
        super().__init__(data)
        self._request = request

    def enter(self, somebody: Person | None, person: Person) -> str:
        given = self.cleaned_data
        try:
            prove_password(self._request, person, given["password_now"])
        except Refused as refused:
            self.add_error("password_now", refused.sentence)
            return ""
        except ValidationError as many:
            self.add_error(None, many)
            return ""
        keeping.change_own_password(person=person, password=given["password"])
        return "Your password is changed."


@sensitive_post_parameters()
@sensitive_variables()
@needs(WRITERS)
def own_password(request: HttpRequest) -> HttpResponse:
    """Gives whoever has the pen another password, once they have typed the one they have."""
    person = signed_on(request)
    form = OwnPasswordForm(request, request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid() and (said := form.keep(None, person)):
        # This session goes on, under a new key.
        update_session_auth_hash(request, person)
        messages.success(request, said)
        return redirect("shift")
    context = {"area": "", "form": form, "title": f"{form.title}: {person.shown_name}", "cancel": reverse("shift")}
    return render(request, "setting_up/person_form.html", context)
