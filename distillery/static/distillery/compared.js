// While figures are being compared the page is asked for anew, a few times, and what it says takes the place of what it
// said. Without this a sentence says to load the page again.
const FIRST_MS = 400;
const EVERY_MS = 800;
const MOST_LOOKS = 12;
const BEHIND = "[data-being-compared]";

let looks = 0;

const look = async () => {
  const shown = document.querySelector("main");
  if (shown === null || shown.contains(document.activeElement)) {
    // Nothing is taken away from under somebody's hands.
    return;
  }
  looks += 1;
  try {
    const answer = await fetch(window.location.href, { headers: { Accept: "text/html", "X-Background": "1" } });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = answer.ok && !answer.redirected ? page.querySelector("main") : null;
    if (now !== null && now.querySelector(BEHIND) === null) {
      shown.replaceWith(document.adoptNode(now));
      return;
    }
  } catch {
    // The site cannot be reached for a moment; the next look tries again.
  }
  if (looks < MOST_LOOKS) {
    window.setTimeout(look, EVERY_MS);
  }
};

if (document.querySelector(BEHIND) !== null) {
  window.setTimeout(look, FIRST_MS);
}
