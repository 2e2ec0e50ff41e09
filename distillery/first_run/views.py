"""The page on which the first manager is made."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from distillery.first_run import code
from distillery.people.keeping import Unchangeable, add_first_manager
from distillery.people.models import Person
from distillery.people.password_boxes import again, new_password
from distillery.plant.forms.boxes import Words

WRONG = "This is not the code on the console of the server: type its twelve figures."
NO_CODE = "No code works any more. Start the server again: it prints another."
# Where the ways to everything else that a new site does begin.
NEXT = "first_month"


class FirstManagerForm(forms.Form):
    """Who the first manager is, with the code of the server."""

    use_required_attribute = False
    code = Words("Code", longest=40, help_text="Twelve figures, on the console in which the server was started.")
    first_name = Words("First name", longest=150)
    last_name = Words("Last name", longest=150)
    username = Words("Signs on as", longest=150, help_text="Small letters, such as r.alder. It stands in the seals.")
    password = new_password("Password")
    password_again = again()

    def clean_code(self) -> str:
        """Raises ValidationError for any other than the one that was printed."""
        typed = str(self.cleaned_data["code"])
        if not code.is_right(typed):
            raise forms.ValidationError(WRONG if code.is_waiting() else NO_CODE)
        return typed

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or self.cleaned_data
        if "password" in given and "password_again" in given and given["password"] != given["password_again"]:
            self.add_error("password_again", "The two passwords are not the same: type both again.")
        return given


@sensitive_post_parameters()
@sensitive_variables()
@login_not_required
def first_run(request: HttpRequest) -> HttpResponse:
    """Makes the first manager and signs them on; leads on to the list of what a new site does."""
    if Person.objects.exists():
        return redirect("login")
    here = code.at_the_server(request)
    form = FirstManagerForm(request.POST if request.method == "POST" and here else None)
    if form.is_bound and form.is_valid():
        given = {name: form.cleaned_data[name] for name in ("username", "first_name", "last_name", "password")}
        try:
            made = add_first_manager(**given)
        except Unchangeable as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)
        else:
            code.forget()
            login(request, made, backend="django.contrib.auth.backends.ModelBackend")
            messages.success(request, f"{made.shown_name} is the first manager. This list says what a new site does.")
            return redirect(NEXT)
    shown = {"form": form, "here": here, "waits": code.is_waiting()}
    return render(request, "first_run/first_run.html", shown, status=200 if here else 403)
