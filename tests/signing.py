"""What a page sends with the button by which a name is put to it."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

HIDDEN = re.compile(r'<input type="hidden" name="(seen(?:_words)?)" value="([^"]*)"')


def seen_on(page: Any) -> dict[str, str]:
    """The hidden boxes of a page that say what was on it."""
    found = {name: unescape(value) for name, value in HIDDEN.findall(page.content.decode())}
    assert found, "the page does not say what is signed by its button"
    return found
