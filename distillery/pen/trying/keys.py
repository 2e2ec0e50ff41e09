"""Security keys and cards: taking the pen with something held, for those who cannot hold numbers (WebAuthn, W3C).

A kept library makes and checks what goes between browser and key. Browsers offer it on a name that is served over TLS,
and on localhost, never on a bare address. At an enrolled PC a touch is enough; anywhere else the key asks for its own
PIN or finger first. The library takes a second to be loaded, so it is only once somebody uses a key.
"""

from __future__ import annotations

import ipaddress
import json
import time
from typing import Any, Final

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone

from distillery.database.retrying import retried
from distillery.pen.models import SecurityKey
from distillery.pen.pcs import pc_of
from distillery.pen.trying.taking import place_of, still_welcome
from distillery.pen.trying.tries import Refused, Way, compared
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, holds
from distillery.seals.writing import written_by

ASKED: Final = "pen-key"
ASKED_FOR_S: Final = 120
NOT_HERE: Final = (
    "Keys and cards work where this site is opened by a name over HTTPS, or as localhost at the PC that serves it; not "
    "at a bare address."
)


class NoKey(Exception):
    """A key was not registered or not taken; one sentence."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def site_of(request: HttpRequest) -> str:
    """The name under which browsers keep keys for this site; blank where they keep none."""
    name = request.get_host().rpartition("]")[2].partition(":")[0]
    if name == "localhost" or name.endswith(".localhost"):
        return name
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return name if request.is_secure() else ""
    return ""


def any_key(request: HttpRequest) -> bool:
    """Whether anybody has a key that works at this address."""
    site = site_of(request)
    return bool(site) and SecurityKey.objects.filter(site=site, ended_at__isnull=True).exists()


def begin_registering(request: HttpRequest, person: Person) -> dict[str, Any]:
    """What the browser of this PC is asked for, so that a person's key is registered. Raises NoKey."""
    from webauthn import generate_registration_options
    from webauthn.helpers.structs import (
        AuthenticatorSelectionCriteria,
        PublicKeyCredentialDescriptor,
        ResidentKeyRequirement,
        UserVerificationRequirement,
    )

    site = _site(request)
    options = generate_registration_options(
        rp_id=site,
        rp_name=settings.SITE_NAME or "Gaugebook",
        # Nothing of the person but a number of this site's own.
        user_id=f"gaugebook-{person.pk}".encode(),
        user_name=person.username,
        user_display_name=person.shown_name,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.PREFERRED,
            user_verification=UserVerificationRequirement.PREFERRED,
        ),
        exclude_credentials=[PublicKeyCredentialDescriptor(id=_bytes(key)) for key in standing_keys(person, site)],
    )
    return _remembered(request, options, person)


def register(request: HttpRequest, answer: str, *, name: str, present: Person) -> SecurityKey:
    """Keeps the public part of a person's key, as the browser answered. Raises NoKey."""
    from webauthn import verify_registration_response
    from webauthn.helpers import bytes_to_base64url
    from webauthn.helpers.exceptions import WebAuthnException

    site, asked = _site(request), _asked(request)
    person = Person.objects.filter(pk=int(asked.get("person") or 0), is_active=True).first()
    if person is None or not holds(present, PLANT_KEEPERS):
        raise NoKey("A manager registers keys; begin once more.")
    try:
        found = verify_registration_response(
            credential=answer,
            expected_challenge=_unhex(asked),
            expected_rp_id=site,
            expected_origin=_origin(request),
        )
    except (WebAuthnException, ValueError, KeyError, TypeError) as wrong:
        raise NoKey("The key did not answer as it should; begin once more.") from wrong
    return _keep(
        SecurityKey(
            person=person,
            name=" ".join(name.split())[:60] or "Key",
            credential=bytes_to_base64url(found.credential_id),
            public_key=bytes_to_base64url(found.credential_public_key),
            uses=found.sign_count,
            site=site,
            registered_at=timezone.now(),
            present=present,
        )
    )


def begin_taking(request: HttpRequest, person: Person | None) -> dict[str, Any]:
    """What the browser is asked for so that somebody takes the pen by key; `person` where a name is chosen already.

    Raises NoKey.
    """
    from webauthn import generate_authentication_options
    from webauthn.helpers.structs import PublicKeyCredentialDescriptor, UserVerificationRequirement

    site = _site(request)
    keys = standing_keys(person, site) if person is not None and pc_of(request) is not None else []
    options = generate_authentication_options(
        rp_id=site,
        allow_credentials=[PublicKeyCredentialDescriptor(id=_bytes(key)) for key in keys],
        user_verification=(
            UserVerificationRequirement.DISCOURAGED if pc_of(request) else UserVerificationRequirement.REQUIRED
        ),
    )
    return _remembered(request, options, None)


def taken_with(request: HttpRequest, answer: str) -> Person:
    """Whose key answered. Raises NoKey, Refused."""
    site, asked = _site(request), _asked(request)
    key = _key_in(answer, site)
    compared(key.person if key else None, Way.KEY, place_of(request), lambda: _verified(request, key, asked, answer))
    if key is None:
        raise NoKey("That key is not known here.")
    if not key.person.is_active:
        raise Refused("This person no longer signs on here.")
    return still_welcome(key.person)


def end(key: SecurityKey, *, person: Person) -> None:
    """Ends a key: nobody takes the pen with it any more. Raises NoKey."""
    if not holds(person, PLANT_KEEPERS):
        raise NoKey("A manager ends keys.")
    if key.ended_at is None:
        key.ended_by, key.ended_at = person, timezone.now()
        with written_by(person, "ending a key"):
            key.save(update_fields=["ended_by", "ended_at"])


def standing_keys(person: Person, site: str) -> list[SecurityKey]:
    """The keys of a person that work under a name of the site."""
    return list(SecurityKey.objects.filter(person=person, site=site, ended_at__isnull=True))


@retried
def _keep(key: SecurityKey) -> SecurityKey:
    if SecurityKey.objects.filter(credential=key.credential).exists():
        raise NoKey("That key is registered already.")
    with written_by(key.present, "registering a key"):
        key.save()
    return key


def _verified(request: HttpRequest, key: SecurityKey | None, asked: dict[str, Any], answer: str) -> bool | None:
    from webauthn import verify_authentication_response
    from webauthn.helpers import base64url_to_bytes
    from webauthn.helpers.exceptions import WebAuthnException

    if key is None:
        return None
    try:
        found = verify_authentication_response(
            credential=answer,
            expected_challenge=_unhex(asked),
            expected_rp_id=key.site,
            expected_origin=_origin(request),
            credential_public_key=base64url_to_bytes(key.public_key),
            credential_current_sign_count=key.uses,
            require_user_verification=pc_of(request) is None,
        )
    except (WebAuthnException, ValueError, KeyError, TypeError):
        return None
    if found.new_sign_count != key.uses:
        key.uses = found.new_sign_count
        with written_by(key.person, "use of a key"):
            key.save(update_fields=["uses"])
    return True


def _key_in(answer: str, site: str) -> SecurityKey | None:
    try:
        credential = json.loads(answer)["id"]
    except (ValueError, KeyError, TypeError):
        return None
    found = SecurityKey.objects.filter(credential=str(credential)[:1400], site=site, ended_at__isnull=True)
    return found.select_related("person").first()


def _remembered(request: HttpRequest, options: Any, person: Person | None) -> dict[str, Any]:
    from webauthn import options_to_json

    request.session[ASKED] = {
        "challenge": options.challenge.hex(),
        "at": time.time(),
        "person": person.pk if person else None,
    }
    found: dict[str, Any] = json.loads(options_to_json(options))
    return found


def _asked(request: HttpRequest) -> dict[str, Any]:
    """What was asked of the browser, once. Raises NoKey where that was nothing, or long ago."""
    asked = request.session.pop(ASKED, None)
    if not isinstance(asked, dict) or time.time() - float(asked.get("at", 0)) > ASKED_FOR_S:
        raise NoKey("That took too long; begin once more.")
    return asked


def _site(request: HttpRequest) -> str:
    site = site_of(request)
    if not site:
        raise NoKey(NOT_HERE)
    return site


def _origin(request: HttpRequest) -> str:
    return f"{request.scheme}://{request.get_host()}"


def _unhex(asked: dict[str, Any]) -> bytes:
    return bytes.fromhex(str(asked.get("challenge", "")))


def _bytes(key: SecurityKey) -> bytes:
    from webauthn.helpers import base64url_to_bytes

    found: bytes = base64url_to_bytes(key.credential)
    return found
