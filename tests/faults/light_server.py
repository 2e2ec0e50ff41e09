"""The real site on the production server, without what `serve` does before: a start light enough to be killed often.

Run: `python -m tests.faults.light_server`, with DATABASE_URL naming a database that is up to date. It takes a free port
of this computer, or the one named in PORT, and says which. With WAIT=1 it has everything imported and listens only once
a line comes in: what is killed often has its next one ready meanwhile.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from django.core.handlers.wsgi import WSGIHandler


def imported() -> WSGIHandler:
    """The site, with everything read in that its pages need."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    from django.core.wsgi import get_wsgi_application
    from django.urls import get_resolver

    site = get_wsgi_application()
    # The pages are read in now, or most of a short life would go by before the first of them is shown.
    assert get_resolver().url_patterns
    return site


def serve(site: WSGIHandler) -> None:
    """Serves until it is ended."""
    from distillery.management.listening import listening

    # At the end of what it reads whoever made it ready is gone.
    if os.environ.get("WAIT") == "1" and not sys.stdin.readline():
        return
    server = listening(site, host="127.0.0.1", port=int(os.environ.get("PORT", "0")))
    print(f"Serving at http://127.0.0.1:{server.effective_port}/ until it is ended.", flush=True)
    server.run()


def main() -> None:
    serve(imported())


if __name__ == "__main__":
    main()
