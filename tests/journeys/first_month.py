"""The page First month as a person follows it: presses what it says, fills the form, and comes back to it."""

from __future__ import annotations

from typing import Any, Final

from playwright.sync_api import Error

BETWEEN_LOOKS_MS, MOST_LOOKS = 100, 200
# Who is added beside the first manager; invented.
SECOND_PERSON: Final = {
    "first_name": "Fern",
    "last_name": "Ashby",
    "username": "f.ashby",
    "roles": "staff",
    "password": "a-copper-lantern-9",
    "password_again": "a-copper-lantern-9",
    "reason": "writes on the day shift",
}


class FirstMonth:
    """Goes on from the page First month: presses what it says, fills the form, and comes back to it."""

    def __init__(self, page: Any) -> None:
        self.page = page

    def next(self) -> str:
        """What the page says comes next."""
        found: str = self.page.locator(".first-next b").inner_text()
        return found.removeprefix("Next: ").removesuffix(".")

    def press(self, text: str) -> None:
        self._lead_away(self.page.locator(".first-ways").get_by_text(text, exact=True))

    def save(self, **boxes: str) -> None:
        """Fills the form that is open and saves it; the form leads back."""
        for name, value in boxes.items():
            box = self.page.locator(f"[name={name}]")
            if box.first.evaluate("box => box.tagName") == "SELECT":
                box.select_option(value)
            elif box.first.get_attribute("type") == "checkbox":
                self.page.locator(f"[name={name}][value={value}]").check()
            else:
                box.fill(value)
        self._lead_away(self.page.locator("main form[method=post] .buttons button").first)
        faults = self.page.locator(".field-error, .error-summary").all_inner_texts()
        assert not faults, faults

    def _lead_away(self, button: Any) -> None:
        """Presses what leads to another page, and waits until that stands."""
        self.page.evaluate("window.left = true")
        button.click()
        for _ in range(MOST_LOOKS):
            self.page.wait_for_timeout(BETWEEN_LOOKS_MS)
            try:
                # Another page has not been marked.
                if self.page.evaluate("window.left === undefined && document.readyState === 'complete'"):
                    return
            except Error:
                # It is asked in the moment between two pages.
                continue
        raise AssertionError(f"{self.page.url} was not left")

    def enter(self, text: str, **boxes: str) -> None:
        self.press(text)
        self.save(**boxes)
        assert self.page.url.endswith("/site/first-month/"), self.page.url
