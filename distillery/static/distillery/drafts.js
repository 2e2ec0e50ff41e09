// Each box of a form with data-draft is kept as a draft on the server as it is left, and what is left over as the page goes
// away; until the server has answered it is on the disk of this computer too (on_disk.js). While the server is away boxes are kept in this browser, and a Save waits there (unsent.js). The page says which
// of these is so, and nothing that it does not know.
(() => {
  // So short that no second box is left meanwhile, and long enough for a script that fills many at once.
  const WAIT_MS = 40;
  // A long text is kept while its writer stops to think.
  const PAUSE_MS = 2000;
  const LONGEST_ANSWER_MS = 8000;
  // What a browser still sends as its page goes away (Fetch standard, section 4.6: 64 KiB).
  const MOST_ON_LEAVING = 60000;
  const NO_BOXES = new Set(["hidden", "submit", "button", "reset", "image", "password", "file", "fieldset", "output"]);
  // Buttons that ask the page for something and save nothing.
  const NO_SAVE = new Set(["more", "take", "work_out"]);
  const unsent = window.gaugebookUnsent;
  const onDisk = window.gaugebookOnDisk;

  class Drafted {
    constructor(form) {
      this.form = form;
      this.said = form.querySelector("[data-draft-said]");
      this.away = form.querySelector("[data-unsent-said]");
      this.waiting = 0;
      this.sending = false;
      this.pressed = false;
      this.through = false;
      this.ended = false;
      this.isAway = false;
      this.writing = false;
      this.writeAgain = false;
      // What the server has of each box; nothing of a page that came back with what was sent.
      this.there = "draftWhole" in form.dataset ? {} : this.boxes();
      form.addEventListener("change", () => this.left());
      form.addEventListener("focusout", () => this.soon());
      form.addEventListener("input", () => this.soon(PAUSE_MS));
      form.addEventListener("submit", (event) => this.press(event));
      // Before the next page is asked for, so that it already shows what is sent here.
      window.addEventListener("beforeunload", () => this.send());
      window.addEventListener("pagehide", () => this.leave());
      document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && this.send());
      window.addEventListener("pageshow", (event) => event.persisted && this.comeBack());
      document.addEventListener("gaugebook:pen-changing", () => this.send());
      document.addEventListener("gaugebook:boxes-sent", (event) => this.wereSent(event.detail));
      document.addEventListener("gaugebook:unsent-sent", (event) => this.wasSaved(event.detail));
      if ("draftWhole" in form.dataset) {
        this.soon();
      }
    }

    get draft() {
      const data = this.form.dataset;
      const field = (name) => this.form.elements.namedItem(name)?.value ?? "";
      return {
        key: data.draft,
        title: data.draftTitle,
        address: data.draftAt,
        token: field("sending"),
        serial: field("opened") || field("version"),
      };
    }

    // The text of every box by its name.
    boxes() {
      const found = {};
      for (const box of this.form.elements) {
        if (!box.name || (NO_BOXES.has(box.type) && box.name !== "lines") || box.tagName === "BUTTON") {
          continue;
        }
        if (box.type === "radio" || box.type === "checkbox") {
          found[box.name] = box.checked ? box.value : (found[box.name] ?? "");
        } else {
          found[box.name] = box.value;
        }
      }
      return found;
    }

    get changed() {
      return Object.fromEntries(Object.entries(this.boxes()).filter(([name, text]) => this.there[name] !== text));
    }

    // At once to the disk, and to the server as soon as it has answered for what was left before.
    left() {
      this.writeDown();
      this.soon();
    }

    async writeDown() {
      if (this.writing) {
        this.writeAgain = true;
        return;
      }
      this.writing = true;
      do {
        this.writeAgain = false;
        const boxes = this.sendable();
        if (!this.ended && Object.keys(boxes).length) {
          await onDisk.put({ ...this.draft, person: unsent.person(), shownName: unsent.shownName() }, boxes);
        }
      } while (this.writeAgain);
      this.writing = false;
    }

    // What has changed, and with it how many lines there are.
    sendable() {
      const boxes = this.changed;
      if (Object.keys(boxes).length && ("lines" in this.there || "lines" in this.boxes())) {
        boxes.lines = this.boxes().lines;
      }
      return boxes;
    }

    soon(wait = WAIT_MS) {
      clearTimeout(this.waiting);
      if (!this.ended) {
        this.waiting = setTimeout(() => this.send(), wait);
      }
    }

    async send() {
      clearTimeout(this.waiting);
      const boxes = this.sendable();
      if (this.ended || this.sending || this.through || !Object.keys(boxes).length) {
        return;
      }
      const draft = { ...this.draft, boxes };
      const person = unsent.person();
      const body = unsent.formOf(draft);
      const ends = new AbortController();
      const timer = setTimeout(() => ends.abort(), LONGEST_ANSWER_MS);
      this.sending = true;
      try {
        const answer = await fetch(unsent.keepAt, {
          method: "POST",
          body,
          cache: "no-store",
          signal: ends.signal,
          keepalive: body.toString().length < MOST_ON_LEAVING,
        });
        const said = answer.headers.get("Content-Type")?.startsWith("application/json") ? await answer.json() : {};
        this.isAway = false;
        this.answered(answer, said, draft, person);
      } catch {
        this.isAway = true;
        this.keepHere(draft, "the server is away");
      } finally {
        clearTimeout(timer);
        this.sending = false;
      }
      if (Object.keys(this.changed).length && !this.ended) {
        this.soon();
      }
    }

    answered(answer, said, draft, person) {
      if (answer.ok && said.saved) {
        this.ended = true;
        onDisk.forget(person, draft.key);
        this.say("");
      } else if (answer.ok && said.kept) {
        onDisk.answered(person, draft.key, draft.boxes);
        this.kept(draft.boxes, said);
      } else if (answer.status === 413) {
        this.there = { ...this.there, ...draft.boxes };
        this.say(`Not kept as a draft. ${said.sentence ?? "It is too large."}`);
      } else {
        const nobody = [401, 403, 423].includes(answer.status);
        this.keepHere(draft, nobody ? "sign on first" : (said.sentence ?? "the server cannot take it now"));
      }
    }

    kept(boxes, said) {
      this.there = { ...this.there, ...boxes };
      const words = `Draft kept ${said.kept}, ${said.by}`;
      this.say(words);
      for (const name of Object.keys(boxes)) {
        const box = this.form.elements.namedItem(name);
        const mark = box?.id ? document.getElementById(`${box.id}_draft`) : null;
        // Where there is no room beside the box the word stands alone, and whose it is above.
        if (mark && !("short" in mark.dataset)) {
          mark.textContent = words;
        }
      }
      const draft = this.draft;
      if (draft.key.startsWith("new/")) {
        // A page that is opened anew, or gone back to, finds this sheet again and no other.
        history.replaceState(history.state, "", draft.address);
      }
    }

    keepHere(draft, why) {
      // The queue looks after it from now on and sends it once the server answers.
      this.there = { ...this.there, ...draft.boxes };
      const kept = unsent.keepBoxes(draft, draft.boxes);
      this.say(
        kept ? `Kept in this browser, not yet on the server: ${why}.` : `Not kept: ${why}, and this browser has no room.`,
      );
    }

    wereSent(draft) {
      if (draft.key === this.draft.key) {
        this.say(draft.saved ? "" : `Draft kept ${draft.kept}, ${draft.by}`);
      }
    }

    // The page goes away: what is left over is handed to the browser, which still sends it if it can.
    leave() {
      const boxes = this.changed;
      if (this.ended || this.through || !Object.keys(boxes).length) {
        return;
      }
      const draft = { ...this.draft, boxes };
      if (this.isAway) {
        unsent.keepBoxes(draft, boxes);
      } else {
        navigator.sendBeacon(unsent.keepAt, unsent.formOf(draft));
      }
    }

    comeBack() {
      this.pressed = false;
      this.through = false;
    }

    async press(event) {
      if (this.through) {
        return;
      }
      event.preventDefault();
      if (this.pressed) {
        return;
      }
      const at = Date.now();
      const button = event.submitter;
      this.pressed = true;
      if (await unsent.reach()) {
        clearTimeout(this.waiting);
        this.through = true;
        if (!this.draft.token) {
          // The server could not know what comes after its Save.
          onDisk.forget(unsent.person(), this.draft.key);
        }
        this.form.requestSubmit(button);
        return;
      }
      this.pressed = false;
      if (button && NO_SAVE.has(button.name)) {
        this.tell("The server is away, so the page cannot change now. What is typed can be saved: it waits here.");
        return;
      }
      if (!this.draft.token) {
        // Without a one-time token it could be written twice.
        this.tell("Not sent: the server is away. What is typed stays; press again when it is back.");
        this.soon();
        return;
      }
      this.queue(button, at);
    }

    queue(button, at) {
      const item = unsent.add(this.form, button, this.draft, at);
      if (item === null) {
        this.tell("Not sent, and this browser has no room to keep it: write it on a blank sheet.");
        return;
      }
      this.say("");
      this.tell(`Not sent yet: the server is away. Pressed ${unsent.clock(item.at)}; it is sent by itself, once.`);
      this.there = { ...this.there, ...this.boxes() };
      if ("draftAgain" in this.form.dataset) {
        this.another();
      }
    }

    // Another line may be written at once, with a token of its own.
    another() {
      this.form.reset();
      for (const box of this.form.elements) {
        if (box.matches("[data-drafted]")) {
          // What stood there before the draft.
          box.value = box.dataset.drafted;
        }
      }
      const token = this.form.elements.namedItem("sending");
      if (token) {
        const bytes = crypto.getRandomValues(new Uint8Array(18));
        token.value = btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_");
        // Its draft is its own too: the key of a line ends in its token.
        const key = this.form.dataset.draft;
        this.form.dataset.draft = key.slice(0, key.lastIndexOf("/") + 1) + token.value;
        this.form.elements.namedItem("draft").value = this.form.dataset.draft;
      }
      this.there = this.boxes();
      const first = [...this.form.elements].find((box) => box.type === "text" && box.name !== "at");
      first?.focus();
    }

    wasSaved(item) {
      if (!unsent.waits()) {
        this.tell("");
      }
      if (item.key !== this.draft.key) {
        return;
      }
      if (!Object.keys(this.changed).length) {
        this.say("");
      }
      if (item.id === this.draft.token) {
        this.ended = true;
        if (!Object.keys(this.changed).length) {
          location.assign(item.href);
        }
      }
    }

    say(words) {
      if (this.said) {
        this.said.textContent = words;
      }
    }

    tell(words) {
      if (this.away) {
        this.away.textContent = words;
      }
    }
  }

  for (const form of document.querySelectorAll("form[data-draft]")) {
    new Drafted(form);
  }
})();
