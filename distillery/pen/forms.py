"""The boxes in which somebody takes the pen: a name and a PIN or password."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.views.decorators.debug import sensitive_variables

from distillery.pen.pcs import pc_of
from distillery.pen.shift import Names, names
from distillery.pen.trying.keys import any_key
from distillery.pen.trying.taking import proven
from distillery.pen.trying.tries import Refused


class SignOnForm(AuthenticationForm):
    """Name and password; at an enrolled PC names to choose from, and a PIN or a password."""

    error_messages = {
        "required": "This is blank: fill it in.",
        "inactive": "This person no longer signs on here.",
        "invalid_login": "Name and password do not belong together; try again.",
    }
    people: Names = Names([], [])

    def __init__(self, request: Any = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(request, *args, **kwargs)
        self.asked: HttpRequest = request
        self.key_works = request is not None and any_key(request)
        name, secret = self.fields["username"], self.fields["password"]
        name.label = "Name"
        name.error_messages["required"] = "Name is blank; type or choose the name you sign on with."
        name.widget.attrs.update({"autocapitalize": "none", "spellcheck": "false"})
        secret.label = "Password"
        secret.error_messages["required"] = "Password is blank."
        if request is not None and pc_of(request) is not None:
            self.people = names(last=request.user.get_username())
            secret.label = "PIN, or password"
            secret.error_messages["required"] = "PIN is blank; type it and press Enter."
            secret.widget = forms.PasswordInput({"autocomplete": "off", "data-secret": ""})

    @sensitive_variables()
    def clean(self) -> dict[str, Any]:
        """Finds out who it is; what is wrong stands on the form."""
        given = self.cleaned_data
        name, secret = given.get("username"), given.get("password")
        if name and secret:
            try:
                person = proven(self.asked, name, secret)
            except Refused as refused:
                raise ValidationError(refused.sentence, code="refused") from refused
            self.confirm_login_allowed(person)
            self.user_cache = person
        return given
