"""The style sheets and templates as a whole: contrast as computed, and nothing a strict content policy would block.

Contrast by the formula of WCAG 2.2, relative luminance and contrast ratio: 4.5 for text (1.4.3), 3 for the edges
of controls and the parts of charts (1.4.11).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
STYLES = sorted((ROOT / "distillery/static/distillery").glob("*.css"))
ROOMS = ("templates", "distillery", "ledger", "batches")
TEMPLATES = sorted(found for room in ROOMS for found in (ROOT / room).rglob("*.html"))
TOKENS = (ROOT / "distillery/static/distillery/tokens.css").read_text(encoding="utf-8")
DAY, NIGHT = (
    dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block.split("}")[0])) for block in TOKENS.split(":root")[1:3]
)
THEMES = pytest.mark.parametrize("theme", [DAY, NIGHT], ids=["day", "night"])


def _luminance(colour: str) -> float:
    parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(theme: dict[str, str], one: str, other: str) -> float:
    darker, lighter = sorted((_luminance(theme[one]), _luminance(theme[other])))
    return (lighter + 0.05) / (darker + 0.05)


@THEMES
@pytest.mark.parametrize(
    ("text", "ground"),
    [
        *((text, ground) for text in ("ink", "ink-soft") for ground in ("ground", "sheet", "field")),
        *((text, "sheet") for text in ("act", "watch", "out", "gap", "locked")),
        *((text, "field") for text in ("act", "out", "second")),
        *((state, f"{state}-tint") for state in ("watch", "out", "gap", "locked")),
        ("ink", "watch-tint"),
        ("on-act", "act"),
    ],
)
def test_text_can_be_read(theme: dict[str, str], text: str, ground: str) -> None:
    assert _contrast(theme, text, ground) >= 4.5


@THEMES
@pytest.mark.parametrize(
    ("part", "ground"), [("rule", "field"), ("rule", "ground"), ("spirit", "sheet"), ("plan", "band"), ("ink", "band")]
)
def test_edges_and_drawings_can_be_seen(theme: dict[str, str], part: str, ground: str) -> None:
    assert _contrast(theme, part, ground) >= 3.0


@THEMES
def test_body_text_is_well_above_the_least(theme: dict[str, str]) -> None:
    """Our own figure: 6.5 or more for body text."""
    assert min(_contrast(theme, "ink", ground) for ground in ("ground", "sheet", "field")) >= 6.5
    assert min(_contrast(theme, "ink-soft", ground) for ground in ("ground", "sheet", "field")) >= 6.5


def test_the_night_sets_every_colour_of_the_day() -> None:
    assert NIGHT.keys() == DAY.keys()
    assert all(NIGHT[name] != DAY[name] for name in DAY)


def test_colours_stand_in_one_place() -> None:
    """A further theme sets the tokens anew, so no other sheet may name a colour; paper alone is black."""
    for sheet in STYLES:
        if sheet.name != "tokens.css":
            colours = set(re.findall(r"#[0-9a-fA-F]{3,8}\b", sheet.read_text(encoding="utf-8")))
            assert colours <= ({"#000000"} if sheet.name == "print.css" else set())


def test_every_token_used_is_set() -> None:
    text = "".join(sheet.read_text(encoding="utf-8") for sheet in STYLES)
    assert set(re.findall(r"var\((--[a-z0-9-]+)", text)) <= set(re.findall(r"(--[a-z0-9-]+):", text))


@pytest.mark.parametrize("sheet", STYLES, ids=lambda sheet: sheet.name)
def test_a_style_sheet_fetches_only_our_own_files(sheet: Path) -> None:
    for address in re.findall(r"url\(\"?([^)\"]+)", sheet.read_text(encoding="utf-8")):
        assert (sheet.parent / address).is_file()


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_template_holds_no_style_and_no_script_of_its_own(template: Path) -> None:
    text = template.read_text(encoding="utf-8")
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:|https?://", text)
    for script in re.findall(r"<script\b[^>]*>.*?</script>", text, re.DOTALL):
        assert re.fullmatch(r"<script [^>]*src=[^>]*></script>", script)
