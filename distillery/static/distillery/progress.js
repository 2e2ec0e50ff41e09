// How far long work has come is asked for anew every two seconds. Without this the page asks for itself anew as a whole.
const EVERY_MS = 2000;

const look = async () => {
  const shown = document.getElementById("progress");
  if (shown === null) {
    return;
  }
  try {
    const answer = await fetch(window.location.href, { headers: { Accept: "text/html", "X-Background": "1" } });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = answer.ok ? page.getElementById("progress") : null;
    if (now === null || now.dataset.state !== shown.dataset.state || Boolean(now.querySelector("progress")) !== Boolean(shown.querySelector("progress"))) {
      // It has begun or ended, or the person has signed off: facts and buttons are others.
      window.location.reload();
      return;
    }
    const said = shown.querySelector("#said");
    const text = now.querySelector("#said").textContent;
    // The same words again would be read aloud again.
    if (said.textContent !== text) {
      said.textContent = text;
    }
    const bar = shown.querySelector("progress");
    if (bar !== null) {
      bar.max = now.querySelector("progress").max;
      bar.value = now.querySelector("progress").value;
    }
  } catch {
    // The site cannot be reached for a moment; the next look tries again.
  }
  window.setTimeout(look, EVERY_MS);
};

window.setTimeout(look, EVERY_MS);
