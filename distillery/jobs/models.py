"""Jobs: work that is still to be done, is going on, or has ended. No fact about alcohol, so no seal covers it."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class JobState(models.TextChoices):
    """How a job stands."""

    WAITING = "waiting", "Waiting"
    GOING_ON = "going on", "Going on"
    DONE = "done", "Done"
    FAILED = "failed", "Failed"
    GIVEN_UP = "given up", "Given up"


OPEN = (JobState.WAITING, JobState.GOING_ON)


class Job(models.Model):
    """One piece of long work, which can be begun again from this row alone. All times are real time.

    `arguments` is a JSON object for its kind. `run` counts how often it was begun: a process writes only where the run
    is its own, so one that was given up for dead changes nothing any more. `broken_off` counts processes that ended
    without a word. `said` is how far it has come in a sentence, `done` of `total` in figures (`total` 0 where it cannot
    be known), `fault` why it failed. `alive_at` is its last sign of life, from `process` on `machine`. `file` is what
    its result is called in the site's folder, `file_name` what it is called for the person, blank where there is none.
    """

    kind = models.CharField(max_length=40)
    arguments = models.TextField(default="{}")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=JobState.choices, default=JobState.WAITING)
    run = models.PositiveIntegerField(default=0)
    broken_off = models.PositiveSmallIntegerField(default=0)
    begun_at = models.DateTimeField(null=True)
    alive_at = models.DateTimeField(null=True)
    process = models.PositiveBigIntegerField(null=True)
    machine = models.CharField(max_length=255, blank=True)
    said = models.CharField(max_length=300, blank=True)
    done = models.PositiveBigIntegerField(default=0)
    total = models.PositiveBigIntegerField(default=0)
    ended_at = models.DateTimeField(null=True)
    fault = models.CharField(max_length=500, blank=True)
    file = models.CharField(max_length=60, unique=True)
    file_name = models.CharField(max_length=120, blank=True)
    file_bytes = models.PositiveBigIntegerField(default=0)
    removed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            # Two processes may both look for work; the database lets one of them begin.
            models.UniqueConstraint(
                fields=["state"], condition=models.Q(state=JobState.GOING_ON), name="one_job_goes_on"
            ),
        ]
        indexes = [
            models.Index(fields=["state", "id"], name="jobs_by_state"),
            models.Index(fields=["asked_by", "id"], name="jobs_of_person"),
        ]

    def __str__(self) -> str:
        return f"job {self.pk}, {self.kind}, {self.state}"

    @property
    def is_open(self) -> bool:
        """True while it waits or goes on."""
        return self.state in OPEN

    @property
    def has_file(self) -> bool:
        """True where it made a file that has not been removed since."""
        return self.state == JobState.DONE and bool(self.file_name) and self.removed_at is None
