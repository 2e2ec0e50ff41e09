"""The boxes in which a password is typed: one that is known, and a new one twice."""

from __future__ import annotations

from django import forms

from distillery.people.passwords import ASKS
from distillery.plant.forms.boxes import REQUIRED


def secret(label: str, help_text: str = "", *, autocomplete: str = "new-password") -> forms.CharField:
    """A box that shows nothing of what is typed."""
    return forms.CharField(
        label=label,
        strip=False,
        help_text=help_text,
        widget=forms.PasswordInput({"autocomplete": autocomplete}),
        error_messages={"required": REQUIRED},
    )


def new_password(label: str, who_knows: str = "") -> forms.CharField:
    """A box for a new password, with what it asks; `again` is the second."""
    return secret(label, f"{ASKS} {who_knows}".strip())


def again() -> forms.CharField:
    """The same password once more."""
    return secret("The same again")
