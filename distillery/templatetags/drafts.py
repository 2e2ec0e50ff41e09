"""The drafts of the PC a page is asked for from."""

from __future__ import annotations

from django import template
from django.template import Context

from distillery.drafts.keeping import Kept, drafts_of
from distillery.drafts.pc import this_pc

register = template.Library()


@register.simple_tag(takes_context=True)
def drafts_of_this_pc(context: Context) -> list[Kept]:
    """All that is typed at this PC and not saved, the newest first."""
    request = context.get("request")
    pc = this_pc(request) if request is not None else None
    return drafts_of(pc) if pc else []
