"""People who sign on, and the four roles they hold.

Shift staff log readings and operations; a manager sets thresholds, explains and closes; an officer
reads and prints everything and writes nothing; an administrator looks after people and plant.
"""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser


class Person(AbstractUser):
    """One person who may sign on. Everything written carries the person who wrote it."""

    class Meta:
        verbose_name = "person"
        verbose_name_plural = "people"

    @property
    def shown_name(self) -> str:
        """The name on pages and prints: full name where there is one, else the sign-on name."""
        return self.get_full_name() or self.username
