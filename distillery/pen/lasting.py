"""How long somebody has the pen: until the PC has been idle for its minutes, at most twelve hours, and at one PC alone.

When somebody last did anything stands in a signed cookie, not in the session: a page that is looked at must not write
to the database. A copy of an older cookie only locks sooner. That a session is locked stands in the session.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, Final

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from distillery.pen.pcs import pc_of

KEY: Final = "pen"
COOKIE: Final = "gaugebook_seen"
SALT: Final = "gaugebook.seen"
LONGEST: Final = timedelta(hours=12)
# The page itself locks first; the server a little later, so that a press in the last second is not lost.
GRACE_S: Final = 5
WARNED_S: Final = 60
# A request says with this header that no person is behind it.
BACKGROUND: Final = "HTTP_X_BACKGROUND"


@dataclass(frozen=True, slots=True)
class Lasting:
    """How a session stands. Seconds of real time."""

    ended: bool
    locked: bool
    idle_s: int
    left_s: int

    @property
    def warned_s(self) -> int:
        """From how many seconds before the lock a bar counts down."""
        return min(WARNED_S, self.idle_s // 2)


def begin(*, request: HttpRequest, **signal: Any) -> None:
    """Called as somebody signs on: the pen is theirs from now on, at this PC."""
    pc = pc_of(request)
    request.session[KEY] = {"pc": pc.pk if pc else 0, "taken": _now(), "locked": False}
    request.__dict__.pop("_lasting", None)


def at_this_pc(request: HttpRequest) -> None:
    """Binds the session to the PC that was enrolled a moment ago."""
    pc = pc_of(request)
    request.session[KEY] = {**_kept(request), "pc": pc.pk if pc else 0}


def lock(request: HttpRequest) -> None:
    """Locks the session until somebody takes the pen."""
    request.session[KEY] = {**_kept(request), "locked": True}
    request.__dict__.pop("_lasting", None)


def lasting(request: HttpRequest) -> Lasting:
    """How the session of a request stands; one that does not say when it began has ended. Asked once for a request."""
    if not hasattr(request, "_lasting"):
        request._lasting = _lasting(request)  # type: ignore[attr-defined]
    found: Lasting = request._lasting  # type: ignore[attr-defined]
    return found


def _lasting(request: HttpRequest) -> Lasting:
    kept, now, idle_s = _kept(request), _now(), idle_seconds(request)
    taken, bound = float(kept.get("taken", 0)), int(kept.get("pc", 0))
    pc = pc_of(request)
    elsewhere = bound != 0 and (pc is None or pc.pk != bound)
    ended = elsewhere or now - taken >= LONGEST.total_seconds()
    left = max(_seen(request), taken) + idle_s - now
    return Lasting(ended, bool(kept.get("locked")) or left < -GRACE_S, idle_s, max(0, int(left)))


def idle_seconds(request: HttpRequest) -> int:
    """How long the PC of a request may be idle before it locks."""
    if settings.IDLE_SECONDS:
        return int(settings.IDLE_SECONDS)
    pc = pc_of(request)
    return 60 * (pc.idle_minutes if pc else int(settings.IDLE_MINUTES))


def note_seen(request: HttpRequest, response: HttpResponse) -> None:
    """Notes in the cookie that somebody is here, if a person is behind the request."""
    if request.META.get(BACKGROUND):
        return
    response.set_cookie(
        COOKIE,
        _signer(request).sign(str(int(_now()))),
        max_age=LONGEST,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def _seen(request: HttpRequest) -> float:
    try:
        return float(_signer(request).unsign(request.COOKIES.get(COOKIE, "")))
    except (signing.BadSignature, ValueError):
        return 0.0


def _signer(request: HttpRequest) -> signing.Signer:
    """Each session has a salt of its own, so that a cookie of one says nothing in another."""
    session = hashlib.sha256((request.session.session_key or "").encode()).hexdigest()
    return signing.Signer(salt=f"{SALT}.{session}")


def _kept(request: HttpRequest) -> dict[str, Any]:
    kept = request.session.get(KEY)
    return dict(kept) if isinstance(kept, dict) else {}


def _now() -> float:
    return timezone.now().timestamp()
