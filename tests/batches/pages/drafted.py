"""Sheets and drafts as tests read and send them: the boxes of a page, and what its script sends as they are left."""

from __future__ import annotations

import re
from typing import Any

from django.test import Client

NEW = "/records/spirit_run/new/"


def token_of(page: str) -> str:
    found = re.search(r'name="sending"[^>]*value="([^"]+)"', page)
    assert found is not None
    return found[1]


def attribute(page: str, name: str) -> str:
    found = re.search(rf'data-draft{name}="([^"]*)"', page)
    assert found is not None
    return found[1].replace("&amp;", "&")


def leave_boxes(here: Client, page: str, **boxes: str) -> dict[str, Any]:
    """What the script of a page sends as boxes are left."""
    said = {"key": attribute(page, ""), "title": attribute(page, "-title"), "address": attribute(page, "-at")}
    version = re.search(r'name="version" value="(\d*)"', page)
    said |= {"token": token_of(page), "serial": version[1] if version else ""}
    answer = here.post("/drafts/keep/", said | {f"box:{name}": text for name, text in boxes.items()})
    assert answer.status_code == 200, answer.content
    return answer.json()


def shown(here: Client, address: str) -> str:
    answer = here.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def box(page: str, name: str) -> str:
    tag = re.search(rf'<input[^>]*name="{name}"[^>]*>', page)
    assert tag is not None, name
    value = re.search(r'value="([^"]*)"', tag[0])
    return value[1] if value else ""
