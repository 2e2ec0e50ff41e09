"""People who sign on, and the four roles they hold.

Shift staff log readings and operations; a manager sets thresholds, explains and closes; an officer
reads and prints everything and writes nothing; an administrator looks after people and plant.
"""

from __future__ import annotations

from typing import Any, Final

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models

# Names under which several people would write; common practice, no source.
SHARED: Final = frozenset(
    [
        "shift",
        "nightshift",
        "dayshift",
        "night",
        "day",
        "still",
        "stillhouse",
        "mashhouse",
        "tunroom",
        "warehouse",
        "bottling",
        "staff",
        "operator",
        "user",
        "everybody",
        "everyone",
        "guest",
        "team",
        "office",
        "pc",
        "shared",
    ]
)


class NameIsSigned(ValueError):
    """A person who has signed something was to get another sign-on name."""


class Person(AbstractUser):
    """One person who may sign on. Everything written carries the person who wrote it.

    The sign-on name stands in the seals, so it is fixed from the first signature on; the name shown may change.
    """

    class Meta:
        verbose_name = "person"
        verbose_name_plural = "people"

    def clean(self) -> None:
        """Raises ValidationError for a name that several would share, or that is another's but for its capitals."""
        super().clean()
        if self.pk is None and type(self).objects.filter(username__iexact=self.username).exists():
            raise ValidationError(
                {"username": f"{self.username} is on the list already, in capital or small letters: names are one."}
            )
        if self.username.casefold().strip("0123456789 ._-") in SHARED:
            raise ValidationError(
                {
                    "username": f"{self.username} is no person's name. Everything written carries who wrote it, so "
                    "each person signs on with a name of their own."
                }
            )

    @property
    def shown_name(self) -> str:
        """The name on pages and prints: full name where there is one, else the sign-on name."""
        return self.get_full_name() or self.username

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Raises NameIsSigned where the sign-on name of one who has signed would change."""
        written = kwargs.get("update_fields")
        if self.pk is not None and (written is None or "username" in written):
            held = Person.objects.filter(pk=self.pk).values_list("username", flat=True).first()
            if held is not None and held != self.username and self.has_signed():
                raise NameIsSigned(
                    f"{held} has signed entries, and the books are sealed over that name. Change the name shown "
                    "instead, or add the person under another sign-on name and let this one no longer sign on."
                )
        super().save(*args, **kwargs)

    def has_signed(self) -> bool:
        """True where anything written names this person and may not lose the name."""
        return any(
            field.related_model._base_manager.filter(**{field.field.name: self}).exists()
            for field in Person._meta.get_fields(include_hidden=True)
            if isinstance(field, models.ManyToOneRel)
            and field.on_delete is models.PROTECT
            # What was done about a person is nothing they signed.
            and field.related_name != "changes"
        )
