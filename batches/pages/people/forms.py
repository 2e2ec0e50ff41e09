"""The boxes in which people are made, given roles, ended and brought back."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from distillery.people import keeping
from distillery.people.keeping import Unchangeable
from distillery.people.models import Person
from distillery.people.password_boxes import again, new_password
from distillery.people.roles import ADMINISTRATOR, MANAGER, OFFICER, STAFF
from distillery.plant.forms.boxes import Words

TO_THEM_ALONE = "Tell it to them alone; they may change it themselves."
ROLES = [
    (STAFF, "Staff: write readings and operations"),
    (MANAGER, "Manager: set figures, answer enquiries, close periods"),
    (OFFICER, "Officer: read and print, write nothing"),
    (ADMINISTRATOR, "Administrator: look after people and plant"),
]


class PeopleForm(forms.Form):
    """A form about one person; `keep` does it and says so, or puts the sentence beside its box."""

    use_required_attribute = False
    title: ClassVar[str] = ""
    lead: ClassVar[str] = ""
    submit: ClassVar[str] = "Save"

    def keep(self, somebody: Person | None, person: Person) -> str:
        """Does what was asked and says so; '' where it was refused."""
        try:
            return self.enter(somebody, person)
        except Unchangeable as refused:
            self.add_error(refused.field if refused.field in self.fields else None, refused.sentence)
        return ""

    def enter(self, somebody: Person | None, person: Person) -> str:
        """Hands the boxes to the service. Raises Unchangeable."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or self.cleaned_data
        if "password" in given and "password_again" in given and given["password"] != given["password_again"]:
            self.add_error("password_again", "The two passwords are not the same: type both again.")
        return given


class RolesField(forms.MultipleChoiceField):
    """One or more roles, each with what it lets its holder do."""

    def __init__(self) -> None:
        super().__init__(
            label="Roles",
            choices=ROLES,
            widget=forms.CheckboxSelectMultiple,
            error_messages={"required": "Choose at least one role."},
        )


class PersonForm(PeopleForm):
    """Somebody new on the site."""

    title = "Add a person"
    lead = "Everything written carries one person's name, so each signs on with a name of their own."
    submit = "Save person"

    first_name = Words("First name", longest=150)
    last_name = Words("Last name", longest=150)
    username = Words("Signs on as", longest=150, help_text="Small letters, such as r.alder. It stands in the seals.")
    roles = RolesField()
    password = new_password("First password", TO_THEM_ALONE)
    password_again = again()
    reason = Words("Why", help_text="Such as: new on the night shift.")

    def enter(self, somebody: Person | None, person: Person) -> str:
        given = {name: one for name, one in self.cleaned_data.items() if name != "password_again"}
        made = keeping.add_person(**given, person=person)
        return f"{made.shown_name} may sign on as {made.username}."


class RolesForm(PeopleForm):
    """Other roles."""

    title = "Give other roles"
    lead = "The roles held from now on; those not chosen are taken away."
    submit = "Save roles"

    roles = RolesField()
    reason = Words("Why")

    def enter(self, somebody: Person | None, person: Person) -> str:
        assert somebody is not None
        given = self.cleaned_data
        done = keeping.give_roles(somebody, given["roles"], reason=given["reason"], person=person)
        return f"{somebody.shown_name} is {done.roles} from now on."


class EndForm(PeopleForm):
    """No longer signs on."""

    title = "End: may no longer sign on"
    lead = "What they wrote stays theirs. Every session of theirs ends at once, and no PIN or key of theirs works."
    submit = "End"

    reason = Words("Why")

    def enter(self, somebody: Person | None, person: Person) -> str:
        assert somebody is not None
        keeping.end(somebody, reason=self.cleaned_data["reason"], person=person)
        return f"{somebody.shown_name} may no longer sign on."


class NewPasswordForm(PeopleForm):
    """Whatever gives somebody a new password."""

    password = new_password("New password", TO_THEM_ALONE)
    password_again = again()
    reason = Words("Why")


class BackForm(NewPasswordForm):
    """Signs on again."""

    title = "Bring back: may sign on again"
    lead = "With the roles held before and a new password, so that no session from before goes on."
    submit = "Bring back"

    def enter(self, somebody: Person | None, person: Person) -> str:
        assert somebody is not None
        given = self.cleaned_data
        keeping.bring_back(somebody, password=given["password"], reason=given["reason"], person=person)
        return f"{somebody.shown_name} may sign on again."


class PasswordForm(NewPasswordForm):
    """A new password."""

    title = "Give a new password"
    lead = "For somebody who has forgotten theirs. Sessions opened with the old one end."
    submit = "Save password"

    def enter(self, somebody: Person | None, person: Person) -> str:
        assert somebody is not None
        given = self.cleaned_data
        keeping.give_password(somebody, password=given["password"], reason=given["reason"], person=person)
        return f"{somebody.shown_name} has a new password."
