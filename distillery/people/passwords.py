"""What a new password asks, beside the framework's own rules in the settings: said once, here.

Twelve characters are our own bound. Eight is the least that OWASP ASVS 5 and NIST SP 800-63B-4 name for any, fifteen
what the latter asks of a password that stands alone (both from memory); waits leave a guesser about a hundred tries a
day and place, and the hash is slow, so the longer ones are advised and not forced.
"""

from __future__ import annotations

from typing import Final

from django.core.exceptions import ValidationError

SHORTEST: Final = 12
FEWEST_DIFFERENT: Final = 5
SHORTEST_BESIDE_NAME: Final = 8
ASKS: Final = f"At least {SHORTEST} characters, and none of the common ones. Three or four words do well."


class NotPlain:
    """Refuses a password of the same few characters, such as spaces alone, and one that is hardly more than the name.

    The framework compares names and passwords by the letters both have, which refuses many a long phrase.
    """

    def validate(self, password: str, user: object = None) -> None:
        """Raises ValidationError."""
        if len(set("".join(password.split()))) < FEWEST_DIFFERENT:
            raise ValidationError(
                f"This password has fewer than {FEWEST_DIFFERENT} different characters; choose another.",
                code="password_too_plain",
            )
        name = str(getattr(user, "username", "")).casefold()
        if name and len(password.casefold().replace(name, "")) < SHORTEST_BESIDE_NAME:
            raise ValidationError(
                "This password is hardly more than the name you sign on with; choose another.",
                code="password_too_similar",
            )

    def get_help_text(self) -> str:
        """What it asks, in words."""
        return f"At least {FEWEST_DIFFERENT} different characters, and more than the name to sign on with."
