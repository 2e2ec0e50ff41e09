"""Drafts as they are kept. They are no fact: no seal covers them, no guard keeps them, and they go after three days."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Draft(models.Model):
    """What was typed in one form at one PC and is not saved. All times are real time.

    `key` says which form: 'complete/spirit_run/SR0023', or with the form's one-time token where there is no record yet.
    `token` is that of the page, `serial` the version of the record that the page was opened with. `boxes` is JSON: the
    name of each box with its text, when it was kept and by whom. `title` and `address` are for the list of drafts.
    """

    pc = models.CharField(max_length=64)
    key = models.CharField(max_length=200)
    token = models.CharField(max_length=64, blank=True)
    serial = models.PositiveIntegerField(null=True)
    title = models.CharField(max_length=120, blank=True)
    address = models.CharField(max_length=400, blank=True)
    boxes = models.TextField(default="{}")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    kept_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["pc", "key"], name="one_draft_of_a_form")]
        indexes = [models.Index(fields=["kept_at"], name="draft_by_age")]

    def __str__(self) -> str:
        return f"draft of {self.key}"
