"""Where boxes are sent as they are left, where a draft is thrown away, and what says that the server is there."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_POST

from distillery.database.retrying import Busy
from distillery.drafts import keeping
from distillery.drafts.keeping import Form, TooMuch, Which
from distillery.drafts.pc import new_pc, remember_pc, this_pc
from distillery.pen.lasting import lasting
from distillery.pen.pcs import number_of
from distillery.people.models import Person
from distillery.people.roles import WRITERS, holds, needs

BOX = "box:"


@login_not_required
@require_GET
def here(request: HttpRequest) -> HttpResponse:
    """204 where the server is there and knows who asks; 401 where nobody is signed on."""
    return HttpResponse(status=204 if isinstance(request.user, Person) else 401)


@login_not_required
@require_POST
def keep(request: HttpRequest) -> HttpResponse:
    """Keeps the boxes that are sent, in the name of whoever is signed on; none at a locked PC."""
    person = request.user
    if not isinstance(person, Person):
        return JsonResponse({"sentence": "Nobody is signed on."}, status=401)
    if lasting(request).locked or lasting(request).ended:
        # Whoever types at a locked PC has not said who they are, and it is not the one who left.
        return JsonResponse({"sentence": "The PC is locked; take the pen first."}, status=423)
    if not holds(person, WRITERS):
        return JsonResponse({"sentence": "Who only reads has no drafts."}, status=403)
    said = request.POST
    serial = said.get("serial", "")
    form = Form(
        key=said.get("key", ""),
        token=said.get("token", ""),
        serial=int(serial) if serial.isascii() and serial.isdigit() and len(serial) < 10 else None,
        title=said.get("title", ""),
        address=_own_address(said.get("address", "")),
    )
    boxes = {name.removeprefix(BOX): str(text) for name, text in said.items() if name.startswith(BOX)}
    pc = this_pc(request) or new_pc()
    try:
        at = keeping.keep(pc, form, boxes, person=person)
    except TooMuch as error:
        return JsonResponse({"sentence": str(error)}, status=413)
    except Busy as error:
        return JsonResponse({"sentence": error.sentence}, status=503)
    if at is None:
        return JsonResponse({"saved": True})
    answer = JsonResponse({"kept": keeping.seconds(at), "by": person.shown_name})
    if not number_of(request):
        remember_pc(answer, pc)
    return answer


@needs(WRITERS)
@require_POST
def throw_away(request: HttpRequest) -> HttpResponse:
    """Removes one draft of this PC and shows the form as it stands without it."""
    pc = this_pc(request)
    key = request.POST.get("key", "")
    if pc and key:
        keeping.let_go(Which(pc, key))
        messages.success(request, "The draft is thrown away.")
    return redirect(_own_address(request.POST.get("back", "")) or "shift")


def _own_address(address: str) -> str:
    """An address of this site; blank for any other."""
    own = address.startswith("/") and url_has_allowed_host_and_scheme(address, allowed_hosts=None)
    return address if own else ""
