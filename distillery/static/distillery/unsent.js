// What was pressed while the server was away: kept in this browser in the order of the presses, and sent once the server
// answers again. Each form carries its one-time token, so what arrives twice is written once. 'Now' is the moment of the
// press, told by the server's clock as the page had it. Boxes kept in this browser meanwhile go to the server first.
window.gaugebookUnsent = (() => {
  const QUEUE = "gaugebook:unsent";
  const BOXES = "gaugebook:boxes:";
  const AGAIN_MS = 4000;
  const LONGEST_MS = 30000;
  const REACH_MS = 4000;
  // Nobody's hand is on the page when it sends by itself.
  const BACKGROUND = { "X-Background": "1" };
  // So young that the page it was typed on may still be sending it.
  const YOUNG_MS = 2000;
  const onDisk = window.gaugebookOnDisk;
  const SIGN_ON = new Set([401, 403, 423]);
  const NEVER_KEPT = new Set(["csrfmiddlewaretoken"]);

  const me = document.currentScript;
  // From the clock of this computer to that of the site, which may be set otherwise.
  const offset = Date.parse(me.dataset.now) - Date.now();
  let person = me.dataset.person;
  let shownName = me.dataset.shownName;
  let waiting = 0;
  let wait = AGAIN_MS;
  let sending = false;
  let list = null;
  let said = null;

  const read = (key, otherwise) => {
    try {
      return JSON.parse(localStorage.getItem(key)) ?? otherwise;
    } catch {
      return otherwise;
    }
  };
  const write = (key, value) => {
    try {
      localStorage.setItem(key, JSON.stringify(value));
      return true;
    } catch {
      return false;
    }
  };
  const queue = () => read(QUEUE, []);
  const put = (items) => {
    const kept = items.length ? write(QUEUE, items) : (localStorage.removeItem(QUEUE), true);
    show();
    return kept;
  };

  const csrf = () => document.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "";
  const siteTime = (at = Date.now()) => new Date(at + offset).toISOString();
  // As the clock on the site's wall shows it, whatever zone this computer is set to.
  const [, sign, hours, minutes] = /([+-])(\d\d):(\d\d)$/.exec(me.dataset.now) ?? ["", "+", "0", "0"];
  const zone = (sign === "-" ? -1 : 1) * (Number(hours) * 60 + Number(minutes)) * 60000;
  const clock = (iso) => new Date(Date.parse(iso) + zone).toISOString().slice(11, 16);

  // True where the server answers at all; whatever else is wrong, it says itself.
  const reach = async () => {
    try {
      const ends = new AbortController();
      const timer = setTimeout(() => ends.abort(), REACH_MS);
      await fetch(me.dataset.here, { cache: "no-store", signal: ends.signal });
      clearTimeout(timer);
      return true;
    } catch {
      return false;
    }
  };

  const tell = (words, href = "", text = "") => {
    build();
    said.replaceChildren(words);
    if (href) {
      const link = document.createElement("a");
      link.href = href;
      link.textContent = text;
      said.append(" ", link);
    }
  };

  const build = () => {
    if (said !== null) {
      return;
    }
    said = document.createElement("p");
    said.className = "unsent-said";
    said.setAttribute("role", "status");
    list = document.createElement("section");
    list.className = "unsent notice";
    list.hidden = true;
    list.setAttribute("aria-label", "Not sent yet");
    document.querySelector(".messages")?.after(said, list);
  };

  const show = () => {
    build();
    const items = queue();
    list.hidden = !items.length;
    if (!items.length) {
      list.replaceChildren();
      return;
    }
    const head = document.createElement("h2");
    head.textContent = "Not sent yet";
    const lines = document.createElement("ul");
    lines.append(...items.map(line));
    list.replaceChildren(head, lines);
  };

  const line = (item) => {
    const one = document.createElement("li");
    const words = `${item.title}, pressed ${clock(item.at)} by ${item.shownName}.`;
    one.append(item.sentence ? `${words} ${item.sentence} ` : `${words} `);
    if (item.person !== person) {
      one.append(`It goes when ${item.shownName} signs on at this PC.`);
    } else if (item.refused) {
      const open = document.createElement("button");
      open.type = "button";
      open.className = "plain";
      open.textContent = "Open it";
      const name = document.createElement("span");
      name.className = "visually-hidden";
      name.textContent = ` again: ${item.title}`;
      open.append(name);
      open.addEventListener("click", () => back(item));
      one.append(open);
    }
    return one;
  };

  // Into its boxes again: the server answers with the sheet, what was typed, and what is to be put right.
  const back = async (item) => {
    if (!(await reach())) {
      tell("The server is away; it stays here until it can be opened.");
      return;
    }
    const form = document.createElement("form");
    form.method = "post";
    form.action = item.action;
    form.hidden = true;
    for (const [name, value] of [...bodyOf(item)]) {
      const box = document.createElement("input");
      box.type = "hidden";
      box.name = name;
      box.value = value;
      form.append(box);
    }
    document.body.append(form);
    put(queue().filter((one) => one.id !== item.id));
    form.submit();
  };

  const bodyOf = (item) => {
    const body = new URLSearchParams(item.body);
    body.set("pressed", item.at);
    body.set("csrfmiddlewaretoken", csrf());
    return body;
  };

  // What the server's page says is to be put right, or asks.
  const sentenceOf = async (answer) => {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const first = page.querySelector(".error-summary li, .question p, .question legend, .question h2");
    return first?.textContent.trim() || "The server did not take it.";
  };

  const again = () => {
    clearTimeout(waiting);
    if (queue().length || localKeys().length) {
      waiting = setTimeout(send, wait);
      wait = Math.min(wait * 2, LONGEST_MS);
    }
  };

  const change = (id, more) => put(queue().map((one) => (one.id === id ? { ...one, ...more } : one)));

  // One after the other in the order of the presses; false where the server is away or wants somebody to sign on.
  const sendOne = async (item) => {
    let answer;
    try {
      answer = await fetch(item.action, {
        method: "POST",
        body: bodyOf(item),
        headers: { "X-Unsent": "1", ...BACKGROUND },
        cache: "no-store",
      });
    } catch {
      return false;
    }
    if (answer.headers.get("Content-Type")?.startsWith("application/json") && answer.ok) {
      const { href } = await answer.json();
      localStorage.removeItem(BOXES + item.key);
      onDisk.forget(item.person, item.key);
      put(queue().filter((one) => one.id !== item.id));
      tell(`Sent ${clock(siteTime())}: ${item.title}, pressed ${clock(item.at)}.`, href, "Look at it");
      document.dispatchEvent(new CustomEvent("gaugebook:unsent-sent", { detail: { ...item, href } }));
      return true;
    }
    if (SIGN_ON.has(answer.status)) {
      change(item.id, { sentence: "Sign on, and it is sent." });
      return false;
    }
    if (answer.status >= 500) {
      change(item.id, { sentence: "The server could not save it; it is tried again.", refused: answer.status === 500 });
      return false;
    }
    change(item.id, { sentence: `Not taken: ${await sentenceOf(answer)}`, refused: true });
    return true;
  };

  const inTurn = (work) =>
    navigator.locks ? navigator.locks.request("gaugebook-unsent", { ifAvailable: true }, (held) => held && work()) : work();

  const send = async () => {
    if (sending) {
      return;
    }
    sending = true;
    try {
      await inTurn(async () => {
        if (!(await sendFromDisk()) || !(await sendBoxes())) {
          return;
        }
        for (const item of queue()) {
          if (item.refused || item.person !== person) {
            continue;
          }
          if (!(await sendOne(item))) {
            return;
          }
          wait = AGAIN_MS;
        }
      });
    } finally {
      sending = false;
    }
    if (queue().some((item) => !item.refused && item.person === person) || localKeys().length) {
      again();
    }
  };

  // -- boxes kept in this browser

  const localKeys = () => {
    try {
      return Object.keys(localStorage).filter(
        (key) => key.startsWith(BOXES) && read(key, {}).person === person,
      );
    } catch {
      return [];
    }
  };

  const keepBoxes = (draft, boxes) => {
    const before = read(BOXES + draft.key, { boxes: {} });
    const now = { ...draft, person, shownName, serial: before.serial ?? draft.serial, boxes: { ...before.boxes, ...boxes } };
    const kept = write(BOXES + draft.key, now);
    again();
    return kept;
  };

  const formOf = (draft) => {
    const body = new URLSearchParams({ csrfmiddlewaretoken: csrf() });
    for (const name of ["key", "token", "serial", "title", "address"]) {
      body.set(name, draft[name] ?? "");
    }
    for (const [name, text] of Object.entries(draft.boxes)) {
      body.append(`box:${name}`, text);
    }
    return body;
  };

  const sendBoxes = async () => {
    for (const key of localKeys()) {
      const draft = read(key, null);
      let answer;
      try {
        answer = await fetch(me.dataset.keep, { method: "POST", body: formOf(draft), headers: BACKGROUND, cache: "no-store" });
      } catch {
        return false;
      }
      if (answer.ok) {
        onDisk.answered(draft.person, draft.key, draft.boxes);
        // What was typed while it was on its way stays.
        const now = read(key, null);
        const left = now && Object.entries(now.boxes).filter(([name, text]) => draft.boxes[name] !== text);
        if (left?.length) {
          write(key, { ...now, boxes: Object.fromEntries(left) });
        } else {
          localStorage.removeItem(key);
        }
        document.dispatchEvent(new CustomEvent("gaugebook:boxes-sent", { detail: { ...draft, ...(await answer.json()) } }));
      } else if (SIGN_ON.has(answer.status)) {
        return false;
      }
    }
    return true;
  };

  // What was on its way when the power failed; false where the server is away or wants somebody to sign on.
  const sendFromDisk = async () => {
    for (const draft of await onDisk.of(person)) {
      const age = Date.now() - draft.at;
      if (age >= 0 && age < YOUNG_MS) {
        setTimeout(send, YOUNG_MS);
        continue;
      }
      let answer;
      try {
        answer = await fetch(me.dataset.keep, { method: "POST", body: formOf(draft), headers: BACKGROUND, cache: "no-store" });
      } catch {
        return false;
      }
      if (answer.ok) {
        await onDisk.answered(draft.person, draft.key, draft.boxes);
        document.dispatchEvent(new CustomEvent("gaugebook:boxes-sent", { detail: { ...draft, ...(await answer.json()) } }));
      } else if (SIGN_ON.has(answer.status)) {
        return false;
      }
    }
    return true;
  };

  // -- what the forms of a page call

  const add = (form, submitter, draft, pressedAt) => {
    // A PIN or password is never kept either: the page that it comes back to asks for it again.
    const secret = (name) => NEVER_KEPT.has(name) || form.elements.namedItem(name)?.type === "password" || name.includes("password");
    const body = [...new FormData(form, submitter)].filter(([name, value]) => typeof value === "string" && !secret(name));
    const item = {
      id: draft.token || `${draft.key}@${pressedAt}`,
      key: draft.key,
      title: draft.title,
      action: form.action || location.href,
      body,
      at: siteTime(pressedAt),
      person,
      shownName,
    };
    const items = queue();
    const place = items.findIndex((one) => one.id === item.id);
    const kept = put(place < 0 ? [...items, item] : items.with ? items.with(place, item) : items.map((one, at) => (at === place ? item : one)));
    if (kept) {
      // All of its boxes wait with it.
      localStorage.removeItem(BOXES + draft.key);
    }
    again();
    return kept ? item : null;
  };

  window.addEventListener("online", () => {
    wait = AGAIN_MS;
    send();
  });
  document.addEventListener("gaugebook:pen-changed", (event) => {
    person = event.detail?.to ?? person;
    shownName = event.detail?.name ?? shownName;
    show();
    send();
  });
  window.addEventListener("storage", (event) => event.key === QUEUE && show());
  show();
  send();
  return { add, waits: () => queue().length > 0, reach, keepBoxes, formOf, clock, siteTime, send, person: () => person, shownName: () => shownName, keepAt: me.dataset.keep };
})();
