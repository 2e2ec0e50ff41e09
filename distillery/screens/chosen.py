"""What was chosen at a PC: day or night, and for each area how large its pages stand.

A theme is a choice of people in a dim room and never follows the clock: it must not change during an entry. Both are
kept in cookies of the browser, so they belong to the screen and stay when the person changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.http import HttpRequest

THEME_COOKIE: Final = "theme"
DAY, NIGHT = "day", "night"
THEMES: Final = {DAY: "Day", NIGHT: "Night"}

WET_HANDS, DESK, PAPER = "wet-hands", "desk", "paper"
DENSITIES: Final = {WET_HANDS: "Wet hands", DESK: "Desk", PAPER: "Paper-like"}
# What each area offers. Where people stand, letters and boxes may be large; where they read, lines may be close.
OFFERED: Final = {
    "shift": (WET_HANDS, DESK),
    "plant": (WET_HANDS, DESK),
    "warehouse": (WET_HANDS, DESK),
    "bottling": (WET_HANDS, DESK),
    "books": (DESK, PAPER),
    "records": (DESK, PAPER),
    "bench": (WET_HANDS, DESK),
}
# Browsers keep a cookie for 400 days at most (RFC 6265bis, section 5.5, Max-Age).
KEPT_SECONDS: Final = 400 * 24 * 60 * 60

# What was asked in a longer address is not carried in every button of its page.
LONGEST_ADDRESS: Final = 1_000


@dataclass(frozen=True, slots=True)
class Press:
    """One button of a choice: what it says, what it sends, whether it is what stands."""

    text: str
    value: str
    current: bool


def theme_of(request: HttpRequest | None) -> str:
    """'day' or 'night'; day where nothing was chosen, or something that is neither."""
    chosen = request.COOKIES.get(THEME_COOKIE, DAY) if request is not None else DAY
    return chosen if chosen in THEMES else DAY


def density_cookie(area: str) -> str:
    """The name of the cookie that keeps the density of an area."""
    return f"density-{area}"


def density_of(request: HttpRequest | None, area: str, usual: str) -> str:
    """What was chosen at this PC for an area; `usual`, what its page stands in otherwise, where nothing was."""
    chosen = request.COOKIES.get(density_cookie(area), "") if request is not None else ""
    return chosen if chosen in OFFERED.get(area, ()) else usual


def theme_presses(request: HttpRequest | None) -> list[Press]:
    """Day and night."""
    now = theme_of(request)
    return [Press(text, value, value == now) for value, text in THEMES.items()]


def density_presses(request: HttpRequest | None, area: str, usual: str) -> list[Press]:
    """The densities of an area; none where it has no choice."""
    now = density_of(request, area, usual)
    return [Press(DENSITIES[value], value, value == now) for value in OFFERED.get(area, ())]


def page_of(request: HttpRequest | None) -> str:
    """The address of a page to come back to: with what it was asked, unless that is long."""
    if request is None:
        return "/"
    whole = request.get_full_path()
    return whole if len(whole) <= LONGEST_ADDRESS else request.path
