"""Work that makes very many objects, none of which point at one another in a ring.

Python counts references and lets such objects go by itself. Its search for rings, which it begins again each time many
new objects are there, would find nothing, and goes through everything the process holds: in a large month that took a
third of the time of comparing. So it waits until the work is done.
"""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_lock = threading.Lock()
_going_on = 0
_resume = True


@contextmanager
def uncollected() -> Iterator[None]:
    """While this work goes on, in any thread, no search for rings of objects begins. Where the process does without the
    search anyway, nothing changes."""
    global _going_on, _resume
    with _lock:
        if not _going_on:
            _resume = gc.isenabled()
            gc.disable()
        _going_on += 1
    try:
        yield
    finally:
        with _lock:
            _going_on -= 1
            if not _going_on and _resume:
                gc.enable()
