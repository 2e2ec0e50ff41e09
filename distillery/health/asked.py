"""How the server fares, for a program that asks: open to everybody, without a name, a path or a version in it."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from distillery.health.clock_steps import newest
from distillery.pen.keeper import open_when_locked

# A night's copy that failed twice; our own bound.
OLDEST_COPY: Final = timedelta(hours=48)
# A year of a small site and its copy have room in it; our own bound.
LEAST_FREE_MB: Final = 500
STEP_SAID_FOR_S: Final = 24 * 60 * 60

# When the newest copy was made, told by whoever makes them; None where there is none. Empty: no one makes any here.
NEWEST_COPY: list[Callable[[], datetime | None]] = []


@open_when_locked
@login_not_required
@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 where all is well, 503 where somebody has to look; what each part says stands beside it."""
    database, copy, disk = _database(), _copy(), _disk()
    well = all(part["ok"] for part in (database, copy, disk))
    return JsonResponse(
        {"ok": well, "database": database, "newest_copy": copy, "disk": disk, "clock": _clock()},
        status=200 if well else 503,
    )


def _database() -> dict[str, Any]:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM django_migrations LIMIT 1")
            return {"ok": cursor.fetchone() is not None}
    except Exception:
        # Whatever is wrong, what the engine says of it is nobody's outside.
        return {"ok": False}


def _copy() -> dict[str, Any]:
    """Its age in whole hours; a site whose copies are made by something else is not known to have one."""
    if not NEWEST_COPY:
        return {"ok": True, "known": False}
    try:
        made = max(filter(None, (tell() for tell in NEWEST_COPY)), default=None)
    except Exception:
        return {"ok": False, "known": False}
    if made is None:
        return {"ok": False, "known": True, "hours": None}
    age = timezone.now() - made
    return {"ok": age <= OLDEST_COPY, "known": True, "hours": int(age.total_seconds() // 3600)}


def _disk() -> dict[str, Any]:
    """Room on the disk of an SQLite file, else of the site's folder."""
    place = Path(connection.settings_dict["NAME"]) if connection.vendor == "sqlite" else settings.SITE_DIR
    try:
        free_mb = shutil.disk_usage(place if place.is_dir() else place.parent).free // 1_000_000
    except OSError:
        return {"ok": False, "free_mb": None}
    return {"ok": free_mb >= LEAST_FREE_MB, "free_mb": free_mb}


def _clock() -> dict[str, Any]:
    """Whether the computer's clock was set within a day; that alone is no reason to call anybody."""
    lately = [step for step in newest if 0 <= time.time() - step.at_s < STEP_SAID_FOR_S]
    return {"set_by_seconds": round(lately[-1].by_s) if lately else 0}
