"""Taking the pen: a page of its own, and the same boxes laid over a page by a script, which stays as it is."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_POST, require_safe

from distillery.first_run import code
from distillery.pen import pcs
from distillery.pen.forms import SignOnForm
from distillery.pen.hands import short_name, token_of
from distillery.pen.keeper import open_when_locked
from distillery.pen.lasting import lasting, lock
from distillery.pen.locked import standing
from distillery.people.models import Person
from distillery.people.roles import is_officer
from distillery.typed.given_back import KeepsTyped


class SignOn(KeepsTyped, LoginView):
    """Gives somebody the pen, and gives back what was typed before. Asked for JSON, it answers a script."""

    form_class = SignOnForm

    @method_decorator(login_not_required)
    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Who has the pen already is sent on, unless the person is to change or the PC is locked."""
        stays = request.method == "POST" or {"change", "part"} & request.GET.keys()
        if isinstance(request.user, Person) and not stays and not lasting(request).locked:
            return HttpResponseRedirect(self.get_success_url())
        if request.method == "GET" and _goes_first(request):
            return redirect("first_run")
        return super().dispatch(request, *args, **kwargs)

    def get_template_names(self) -> list[str]:
        """The whole page, or the boxes alone."""
        return ["pen/over.html" if "part" in self.request.GET else "registration/login.html"]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Whose name is chosen already, and what a locked PC still shows."""
        context = super().get_context_data(**kwargs)
        user, locked = self.request.user if isinstance(self.request.user, Person) else None, False
        if user is not None:
            locked = lasting(self.request).locked
        asked = self.request.GET.get("name", "")
        if user is not None and locked:
            asked = user.get_username()
        return {
            **context,
            # Whoever takes the pen at a shared PC stands at it, perhaps in gloves.
            "density": "wet-hands" if locked else "",
            "locked": locked,
            "chosen": self.request.POST.get("username", "") or asked,
            "changing": "change" in self.request.GET,
            "standing": standing() if locked else None,
            "nobody_yet": user is None and not Person.objects.exists(),
        }

    def form_valid(self, form: Any) -> HttpResponse:
        """The pen is theirs."""
        if not _asks_for_json(self.request):
            answer = super().form_valid(form)
        else:
            login(self.request, form.get_user())
            answer = JsonResponse(pen_as_data(self.request))
        pcs.remember_again(self.request, answer)
        return answer

    def get_success_url(self) -> str:
        """Where the pen leads: to the page that was asked for; an officer begins at Records, everybody else at This
        shift.
        """
        address = super().get_success_url()
        begins = is_officer(self.request.user) and address == reverse(settings.LOGIN_REDIRECT_URL)
        return reverse("records") if begins else address

    def form_invalid(self, form: Any) -> HttpResponse:
        """What is wrong, in words."""
        if not _asks_for_json(self.request):
            return super().form_invalid(form)
        said = [str(sentence) for sentences in form.errors.values() for sentence in sentences]
        return JsonResponse({"sentences": said}, status=403)


sign_on = open_when_locked(SignOn.as_view())


def pen_as_data(request: HttpRequest) -> dict[str, object]:
    """What a page needs to go on under another name without being loaded anew."""
    person = request.user
    assert isinstance(person, Person)
    found = lasting(request)
    return {
        "name": person.shown_name,
        "short": short_name(person),
        "username": person.username,
        "pen": token_of(person),
        "csrf": get_token(request),
        "idle": found.idle_s,
        "warned": found.warned_s,
        "locked": found.locked,
        "said": f"{person.shown_name} has the pen.",
    }


@open_when_locked
@require_safe
def pen_now(request: HttpRequest) -> HttpResponse:
    """Who has the pen here, for a page in another window of this PC."""
    return JsonResponse(pen_as_data(request)) if _asks_for_json(request) else redirect("shift")


@require_POST
def pen_keep(request: HttpRequest) -> HttpResponse:
    """Somebody is here and typing: the minutes begin anew. The answer carries the cookie that says so."""
    return HttpResponse(status=204)


@open_when_locked
@require_POST
def pen_lock(request: HttpRequest) -> HttpResponse:
    """Locks this PC, by a press or after its minutes."""
    lock(request)
    if _asks_for_json(request):
        return HttpResponse(status=204)
    return redirect("login")


def _goes_first(request: HttpRequest) -> bool:
    """Whether nobody can sign on yet, and whoever asks sits at the server, whose console has the code."""
    return code.is_waiting() and code.at_the_server(request) and not Person.objects.exists()


def _asks_for_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "").startswith("application/json")
