"""What was done about a person, by whom, when and why: made, given other roles, ended, brought back, a new password.

The person's own row says how things stand now; these rows say how they came to. None is ever changed.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


class PersonChange(models.Model):
    """One thing done about a person; `by` is none where a command did it. `roles` are those held from then on."""

    class What(models.TextChoices):
        MADE = "made", "Made"
        ROLES = "roles", "Other roles"
        NAME = "name", "Other name shown"
        ENDED = "ended", "May no longer sign on"
        BACK = "back", "May sign on again"
        PASSWORD = "password", "New password"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=10, choices=What.choices)
    roles = models.CharField(max_length=80, blank=True)
    reason = models.TextField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.get_what_display()}, person {self.person_id}"
