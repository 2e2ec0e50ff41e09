"""What is due of certificates and tables, as one line for Site and for the books."""

from __future__ import annotations

from django.urls import reverse

from distillery.clock.reading import books_today
from distillery.pages import Link
from distillery.plant.due import asking, words


def due_link() -> Link | None:
    """What is overdue or due soon; None where nothing is."""
    said = words(asking(books_today()))
    return Link(said[:1].upper() + said[1:], reverse("due")) if said else None


def overdue_link() -> Link | None:
    """What is overdue, for the books; None where nothing is."""
    late = [one for one in asking(books_today()) if one.is_overdue]
    return Link("Certificates and tables of vessels", reverse("due"), words(late)) if late else None
