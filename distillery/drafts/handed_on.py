"""Drafts of a PC that is enrolled: they go on under the number it is known by from then on."""

from __future__ import annotations

import logging
from typing import Final

from django.http import HttpRequest

from distillery.database.retrying import Busy
from distillery.drafts import keeping
from distillery.drafts.pc import unenrolled_pc

log: Final = logging.getLogger(__name__)


def keep_drafts(request: HttpRequest, number: str) -> None:
    """Hands on what was kept at the PC of a request before it was enrolled. The enrolment stands in any case."""
    before = unenrolled_pc(request)
    if before is None:
        return
    try:
        keeping.hand_on(before, number)
    except Busy:
        log.warning("Drafts kept at a PC before it was enrolled could not be handed on")
