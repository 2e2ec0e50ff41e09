"""Every address of the pen by every role: who may ask for it, who may send to it, and who is sent to sign on."""

from __future__ import annotations

import pytest
from django.urls import reverse

from distillery.pen.urls import urlpatterns

pytestmark = pytest.mark.django_db
EVERYBODY = {"staff", "manager", "officer", "administrator"}
KEEPERS = {"manager", "administrator"}
# Who is not refused, beside whoever nobody is signed on as.
MAY = {
    "login": EVERYBODY | {"nobody"},
    "pen_key": EVERYBODY | {"nobody"},
    "pen_now": EVERYBODY,
    "pen_keep": EVERYBODY,
    "pen_lock": EVERYBODY,
    "pc_enrol": KEEPERS,
    "pc_end": KEEPERS,
    "pin_choose": EVERYBODY - {"officer"},
    "on_shift": EVERYBODY - {"officer"},
    "pass_make": {"manager"},
    "key_register": KEEPERS,
    "key_end": KEEPERS,
}
WITHOUT_JAVASCRIPT = {"pen_key": 403, "key_register": 403}


def test_every_route_has_its_line():
    assert {route.name for route in urlpatterns} == MAY.keys()


@pytest.mark.parametrize("role", [*sorted(EVERYBODY), "nobody"])
@pytest.mark.parametrize("route", sorted(MAY))
def test_who_may(route, role, request, browser_of, stranger):
    here = stranger if role == "nobody" else browser_of(request.getfixturevalue(role))
    shown, sent = here.get(reverse(route)), here.post(reverse(route))
    if role in MAY[route]:
        assert shown.status_code in (200, 302, 405)
        assert sent.status_code in (200, 204, 302, 403 if route in WITHOUT_JAVASCRIPT else 200, 405)
    elif role == "nobody":
        assert sent.status_code == 302
        assert sent["Location"].startswith("/sign-on/")
    else:
        assert sent.status_code == 403
        assert "This needs the role" in sent.content.decode()
