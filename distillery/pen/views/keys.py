"""Registering a security key or card at the site page, and taking the pen with one."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from distillery.pen import pcs
from distillery.pen.keeper import open_when_locked
from distillery.pen.models import SecurityKey
from distillery.pen.trying import keys
from distillery.pen.trying.taking import person_named
from distillery.pen.trying.tries import Refused
from distillery.pen.views.signing_on import pen_as_data
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, needs

BACKEND = "django.contrib.auth.backends.ModelBackend"


@needs(PLANT_KEEPERS)
def key_register(request: HttpRequest) -> HttpResponse:
    """The page, the question to the browser (`begin`), and its answer."""
    person = person_named(request.POST.get("name", "") or request.GET.get("name", ""))
    if request.method != "POST":
        context = {
            "area": "site",
            "person": person,
            "people": Person.objects.filter(is_active=True).order_by("first_name", "username"),
            "works": bool(keys.site_of(request)),
            "not_here": keys.NOT_HERE,
        }
        return render(request, "pen/key.html", context)
    present = request.user
    assert isinstance(present, Person)
    try:
        if "answer" not in request.POST:
            if person is None:
                raise keys.NoKey("Choose whose key it is.")
            return JsonResponse(keys.begin_registering(request, person))
        key = keys.register(request, request.POST["answer"], name=request.POST.get("key_name", ""), present=present)
    except keys.NoKey as refused:
        return JsonResponse({"sentences": [refused.sentence]}, status=403)
    messages.success(request, f"{key.name} of {key.person.shown_name} is registered.")
    return JsonResponse({"next": reverse("site")})


@needs(PLANT_KEEPERS)
def key_end(request: HttpRequest) -> HttpResponse:
    """Ends a key."""
    asked = request.POST.get("key", "") or request.GET.get("key", "")
    if not asked.isascii() or not asked.isdigit() or len(asked) > 18:
        return redirect("site")
    key = get_object_or_404(SecurityKey.objects.select_related("person"), pk=int(asked))
    if request.method == "POST":
        assert isinstance(request.user, Person)
        keys.end(key, person=request.user)
        messages.success(request, f"{key.name} of {key.person.shown_name} works no longer.")
        return redirect("site")
    what = f"{key.name} of {key.person.shown_name}"
    return render(request, "pen/end.html", {"area": "site", "what": what, "box": "key", "value": key.pk})


@open_when_locked
@login_not_required
@require_POST
def pen_key(request: HttpRequest) -> HttpResponse:
    """The question to the browser, and its answer, by which somebody takes the pen."""
    try:
        if "answer" not in request.POST:
            return JsonResponse(keys.begin_taking(request, person_named(request.POST.get("username", ""))))
        person = keys.taken_with(request, request.POST["answer"])
    except (keys.NoKey, Refused) as refused:
        return JsonResponse({"sentences": [refused.sentence]}, status=403)
    login(request, person, backend=BACKEND)
    answer = JsonResponse(pen_as_data(request))
    pcs.remember_again(request, answer)
    return answer
