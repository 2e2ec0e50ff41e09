"""A still that is stopped and started again: as often as it happens, kept among the readings along the way."""

from __future__ import annotations

from batches.sheets.sheet import Event, Field, Kind

STOPPED, STARTED = "stopped", "started again"
INTERRUPTION = Field(
    name="interruption", label="Stopped or started again", kind=Kind.CHOICE, choices=(STOPPED, STARTED)
)
STOP_AND_START = (
    Event(name="stop", label="Stop", said="Stopped", again=INTERRUPTION.name, says=STOPPED, state="Stopped"),
    Event(
        name="start_again",
        label="Start again",
        said="Started again",
        again=INTERRUPTION.name,
        says=STARTED,
        after="stop",
    ),
)
