"""The list of long work."""

from __future__ import annotations

from django.urls import reverse

from distillery.figures import count
from distillery.jobs.kinds import name_of
from distillery.jobs.models import Job, JobState
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.pages import Kind, State

STATES = {
    JobState.WAITING: State(Kind.WAITING, "Waiting"),
    JobState.GOING_ON: State(Kind.WAITING, "Going on"),
    JobState.FAILED: State(Kind.OUT, "Failed"),
    JobState.GIVEN_UP: State(Kind.STRUCK, "Given up"),
}


def state_of(job: Job) -> State | None:
    """The state with its mark; None for what is done, which is as it should be."""
    return STATES.get(JobState(job.state))


def asked_by(job: Job) -> str:
    """Who asked for it; what nobody asked for the program does by itself."""
    return job.asked_by.shown_name if job.asked_by is not None else "The program"


def _result(job: Job) -> str:
    if job.removed_at is not None:
        return "Removed"
    return job.file_name


class LongWorkTable(HouseTable):
    """Long work, newest first."""

    number = ListColumn("Job", lambda job: count(job.pk), href=lambda job: reverse("job", args=[job.pk]), order=("pk",))
    kind = ListColumn("What", lambda job: name_of(job.kind))
    by = ListColumn("Asked by", asked_by)
    asked = MomentColumn("Asked", "asked_at")
    state = ListColumn("State", lambda job: "Done" if job.state == JobState.DONE else "", state=state_of)
    ended = MomentColumn("Ended", "ended_at")
    result = ListColumn("Result", _result)

    name = "long-work"
    caption = "Long work"
    note = "newest first"
    nothing = "No long work has been asked for. An export of large books is asked for under Export."

    class Meta(HouseTable.Meta):
        order_by = ("-number",)
