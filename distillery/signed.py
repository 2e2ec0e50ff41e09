"""What a person puts a name to: the version that was on the page goes with the button, and is the one that is signed.

A page gathers what it shows as labels and words, and sends their digest with its button. The service gathers the same
again when the button is pressed. Where the two digests differ nothing is signed, and what was on the page is shown
beside what stands now. SHA-256 (FIPS 180-4) over the JSON in the form that all digests are made of.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass

from distillery.printing.noting import note_parts

# Labels of a page, each with the words that stood there.
Shown = Mapping[str, str]

# Names of the two hidden boxes: the digest that counts, and the words, which only serve to show both.
SEEN = "seen"
SEEN_WORDS = "seen_words"
MOST_WORDS = 20_000


class MovedOn(Exception):
    """What was to be signed is no longer what was on the page; nothing was signed."""

    def __init__(self, sentence: str, *, now: Shown) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.now = now


@dataclass(frozen=True, slots=True)
class Carried:
    """What a page sends with its button."""

    digest: str
    words: str


def digest_of(shown: Shown) -> str:
    """64 small hexadecimal figures that stand for what a page shows."""
    digest = hashlib.sha256(_canonical(shown).encode("ascii")).hexdigest()
    note_parts(digest, shown)
    return digest


def carried(shown: Shown) -> Carried:
    """What goes into the hidden boxes of a page that shows this."""
    return Carried(digest_of(shown), _canonical(shown))


def refuse_moved(seen: str | None, now: Shown, sentence: str) -> None:
    """Raises MovedOn where a digest is not that of what stands now; None is for a caller that just read it."""
    if seen is not None and seen != digest_of(now):
        raise MovedOn(sentence, now=now)


def read_words(digest: str, words: str) -> dict[str, str]:
    """What was on the page, from its hidden boxes; nothing where the words do not belong to the digest."""
    if len(words) > MOST_WORDS:
        return {}
    try:
        found = json.loads(words or "{}")
    except ValueError:
        return {}
    if not isinstance(found, dict) or not all(isinstance(text, str) for text in found.values()):
        return {}
    return found if digest_of(found) == digest else {}


def changed(was: Shown, now: Shown) -> list[tuple[str, str, str]]:
    """Label, what was on the page, what stands now, for all that differs; blank where there was or is nothing."""
    labels = dict.fromkeys((*was, *now))
    return [
        (label, was.get(label, ""), now.get(label, "")) for label in labels if was.get(label, "") != now.get(label, "")
    ]


def _canonical(shown: Shown) -> str:
    return json.dumps(dict(shown), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
