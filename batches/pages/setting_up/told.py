"""What is due of certificates and tables, as one line for Site."""

from __future__ import annotations

from django.urls import reverse

from distillery.clock.reading import books_today
from distillery.pages import Link
from distillery.plant.due import asking, words


def due_link() -> Link | None:
    """What is overdue or due soon; None where nothing is."""
    said = words(asking(books_today()))
    return Link(said[:1].upper() + said[1:], reverse("due")) if said else None
