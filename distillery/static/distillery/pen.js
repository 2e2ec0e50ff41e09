// The person at this PC changes in place, and the PC locks when nobody is there. The page and all that was typed on it
// stay. Without this the same is done on a page of its own, and the server locks by itself.
import { hands } from "./hands.js";

const bar = document.querySelector("[data-pen]");
const pen = { ...bar.dataset, idle: Number(bar.dataset.idle), warned: Number(bar.dataset.warned), locked: "locked" in bar.dataset };
const EVERY_MS = 1000;
const AGAIN_MS = 5000;
const KEPT_MS = Math.min(30000, (pen.idle * 1000) / 4);
const JSON_PLEASE = { Accept: "application/json" };

const windows = new BroadcastChannel("gaugebook-pen");
let active = Date.now();
let told = Date.now();
let kept = Date.now();
let over = null;
let count = null;

const csrf = () => document.querySelector("input[name=csrfmiddlewaretoken]").value;
const say = (name, detail) => document.dispatchEvent(new CustomEvent(`gaugebook:${name}`, { detail }));
const post = (address, body) =>
  fetch(address, { method: "POST", headers: { ...JSON_PLEASE, "X-CSRFToken": csrf() }, body: body ?? new FormData() });

const announce = (sentence) => {
  const region = document.querySelector("main .messages");
  const line = document.createElement("li");
  line.textContent = sentence;
  const list = document.createElement("ul");
  list.append(line);
  region.replaceChildren(list);
};

// -- who has it

const changed = (now) => {
  const before = { username: pen.username, short: pen.short };
  const wasLocked = pen.locked;
  Object.assign(pen, { username: now.username, short: now.short, token: now.pen, idle: now.idle, warned: now.warned, locked: false });
  for (const box of document.querySelectorAll("input[name=csrfmiddlewaretoken]")) {
    box.value = now.csrf;
  }
  bar.querySelector("[data-pen-name]").textContent = now.name;
  bar.querySelector(".has-pen").textContent = "has the pen";
  hands.changed(pen);
  active = Date.now();
  close();
  announce(now.said);
  if (wasLocked) {
    say("unlocked", { username: now.username });
  }
  say("pen-changed", { from: before.username, to: now.username, name: now.name });
};

const askNow = async () => {
  try {
    const answer = await fetch(bar.dataset.now, { headers: { ...JSON_PLEASE, "X-Background": "1" } });
    if (answer.ok && !answer.redirected) {
      const now = await answer.json();
      if (!now.locked) {
        changed(now);
      }
    }
  } catch {
    // The site cannot be reached; the next press says so.
  }
};

// -- the boxes laid over the page

const close = () => {
  if (over !== null) {
    over.close();
    over.remove();
    over = null;
  }
};

const refuse = (sentences) => {
  const region = over.querySelector(".said");
  region.replaceChildren(
    ...sentences.map((sentence) => {
      const line = document.createElement("p");
      line.className = "field-error";
      line.textContent = sentence;
      return line;
    }),
  );
  const secret = over.querySelector("input[name=password]");
  secret.focus();
  secret.select();
};

const take = async (event) => {
  event.preventDefault();
  const form = event.target;
  try {
    const answer = await post(form.action, new FormData(form));
    if (answer.headers.get("Content-Type")?.startsWith("application/json")) {
      const said = await answer.json();
      if (answer.ok) {
        changed(said);
        windows.postMessage({ changed: true });
      } else {
        refuse(said.sentences ?? ["Type it once more."]);
      }
    } else {
      await fill();
      refuse(["This page was out of date; type it once more."]);
    }
  } catch {
    refuse(["The site cannot be reached. Nothing typed on the page is lost; try again."]);
  }
};

const fill = async () => {
  const shown = over;
  const answer = await fetch(`${bar.dataset.take}?part=1`, { headers: { Accept: "text/html" } });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (over !== shown || shown === null) {
    return;
  }
  shown.replaceChildren(...document.adoptNode(page.body).childNodes);
  shown.querySelector("form").addEventListener("submit", take);
  shown.dispatchEvent(new Event("gaugebook:asks-who", { bubbles: true }));
  shown.querySelector("[data-pen-close]")?.addEventListener("click", close);
  const name = shown.querySelector(".names input:checked") ?? shown.querySelector("input[name=username][type=text]");
  const first = shown.querySelector(".names input");
  (name?.type === "radio" || first === null ? (name?.type === "text" && !name.value ? name : shown.querySelector("input[name=password]")) : first).focus();
};

const open = async () => {
  if (over !== null) {
    return;
  }
  // What is typed so far is drafted in the name of who typed it.
  say("pen-changing", { username: pen.username });
  over = document.createElement("dialog");
  over.className = pen.locked ? "pen-over covers" : "pen-over";
  over.setAttribute("aria-labelledby", "pen-heading");
  const heading = document.createElement("h2");
  heading.id = "pen-heading";
  heading.textContent = pen.locked ? "Locked: who has the pen?" : "Whose name goes on the next entry?";
  over.append(heading);
  over.addEventListener("cancel", (event) => {
    event.preventDefault();
    if (!pen.locked) {
      close();
    }
  });
  document.body.append(over);
  over.showModal();
  await fillSoon();
};

const fillSoon = async () => {
  const shown = over;
  try {
    await fill();
  } catch {
    if (over === shown && shown !== null) {
      // The page is covered whether or not the site can be reached.
      window.setTimeout(fillSoon, AGAIN_MS);
    }
  }
};

// -- the lock

const lock = async (tell) => {
  if (pen.locked) {
    return;
  }
  say("pen-changing", { username: pen.username });
  pen.locked = true;
  uncount();
  close();
  bar.querySelector(".has-pen").textContent = "had the pen";
  say("locked", { username: pen.username });
  if (tell) {
    windows.postMessage({ locked: true });
    try {
      await post(bar.dataset.lock);
    } catch {
      // The server locks by itself after the same minutes.
    }
  }
  await open();
};

const uncount = () => {
  count?.remove();
  count = null;
};

const countDown = (left) => {
  if (count === null) {
    count = document.createElement("div");
    count.className = "pen-count";
    count.setAttribute("role", "status");
    const said = document.createElement("p");
    said.textContent = `This PC locks in ${left} s. Any key or tap keeps the pen.`;
    const length = document.createElement("progress");
    length.max = pen.warned;
    const seconds = document.createElement("p");
    seconds.className = "seconds";
    seconds.setAttribute("aria-hidden", "true");
    count.append(said, length, seconds);
    document.body.append(count);
  }
  count.querySelector("progress").value = left;
  count.querySelector(".seconds").textContent = `${left} s`;
};

const here = () => {
  if (pen.locked) {
    return;
  }
  const now = Date.now();
  active = now;
  uncount();
  if (now - told > EVERY_MS) {
    told = now;
    windows.postMessage({ here: now });
  }
  if (now - kept > KEPT_MS) {
    kept = now;
    post(bar.dataset.keep).catch(() => {});
  }
};

const look = () => {
  if (pen.locked) {
    return;
  }
  const left = Math.ceil(pen.idle - (Date.now() - active) / 1000);
  if (left <= 0) {
    lock(true);
  } else if (left <= pen.warned) {
    countDown(left);
  }
};

// -- what is pressed

for (const what of ["keydown", "pointerdown", "input"]) {
  document.addEventListener(what, here, { capture: true, passive: true });
}
window.addEventListener(
  "keydown",
  (event) => {
    // What saves from anywhere saves nothing from beneath the boxes that are laid over the page.
    if (over !== null && event.key === "F8") {
      event.preventDefault();
      event.stopImmediatePropagation();
    }
  },
  { capture: true },
);
document.addEventListener("keydown", (event) => {
  if (event.key === "F2" && !event.ctrlKey && !event.altKey && !event.metaKey) {
    event.preventDefault();
    open();
  }
});
bar.querySelector("[data-pen-change]").addEventListener("click", (event) => {
  event.preventDefault();
  open();
});
document.addEventListener("gaugebook:key-taken", ({ detail }) => {
  changed(detail);
  windows.postMessage({ changed: true });
});
windows.addEventListener("message", ({ data }) => {
  if (data.here) {
    active = Math.max(active, data.here);
    uncount();
  } else if (data.locked) {
    lock(false);
  } else if (data.changed) {
    askNow();
  }
});
window.setInterval(look, EVERY_MS);
hands.begin(pen);
