"""What a locked PC still says of the runs that are on: what must be done now and what is due."""

from __future__ import annotations

from distillery.clock.reading import books_now
from distillery.pages import Link
from distillery.pen.locked import Standing


def standing_of_runs() -> Standing:
    """For the page of a locked PC; the floor below asks."""
    # Here, because the program starts with this module and the pages bring the large libraries.
    from batches.pages.running.lines import due_and_act_now

    due, act_now = due_and_act_now(books_now())
    return Standing(
        [Link(message.response, message.href, message.sentence) for message in act_now],
        [Link(f"{word} {line.text}", line.href) for word, found in due.groups for line in found],
    )
