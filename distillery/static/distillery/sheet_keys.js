// The keys of a sheet: Enter goes on to the next box and never saves, F8 saves, Escape puts back what stood in the box
// before, F1 shows what goes in it. Without this a sheet is filled and saved all the same.
const BOXES = "input:not([type=hidden], [type=checkbox], [type=radio]), select, textarea";

class SheetKeys {
  constructor(form) {
    this.form = form;
    this.before = "";
    // What the page itself put into a box, such as the only vessel that fits, is passed over by Enter while it stands.
    this.given = new Map(this.boxes().filter((box) => box.value).map((box) => [box, box.value]));
    this.asksAll = this.boxes().every((box) => box.value);
    form.addEventListener("focusin", (event) => {
      if (event.target.matches?.(BOXES)) {
        this.before = event.target.value;
      }
    });
    form.addEventListener("keydown", (event) => this.pressed(event));
    document.addEventListener("keydown", (event) => {
      if (event.key === "F8" && !event.repeat) {
        event.preventDefault();
        this.save();
      }
    });
  }

  boxes() {
    return [...this.form.querySelectorAll(BOXES)].filter(
      (box) => !box.disabled && box.tabIndex >= 0 && box.checkVisibility(),
    );
  }

  save() {
    const save = this.form.querySelector("[data-save]");
    // Leaving the box first, so that whoever listens to what was typed hears of it.
    document.activeElement?.blur();
    this.form.requestSubmit(save);
  }

  pressed(event) {
    const box = event.target;
    if (event.defaultPrevented || event.isComposing || !box.matches?.(BOXES)) {
      return;
    }
    if (event.key === "Enter" && box.tagName !== "TEXTAREA") {
      event.preventDefault();
      this.goOn(box);
    } else if (event.key === "Escape" && box.value !== this.before) {
      event.preventDefault();
      box.value = this.before;
      box.dispatchEvent(new Event("input", { bubbles: true }));
    } else if (event.key === "F1") {
      this.help(event, box);
    }
  }

  goOn(box) {
    const boxes = this.boxes();
    const after = boxes.slice(boxes.indexOf(box) + 1);
    // Who took the readings is no part of the sheet, and the same for most of them.
    const next = after.find((one) => !one.closest(".read-by") && (this.asksAll || this.given.get(one) !== one.value));
    if (next) {
      next.focus();
      next.select?.();
    } else if (!this.form.dispatchEvent(new CustomEvent("sheet:end", { bubbles: true, cancelable: true, detail: box }))) {
      // Somebody has added a line and gone on there.
    } else {
      this.form.querySelector("[data-save]").focus();
    }
  }

  help(event, box) {
    const details = document.getElementById("boxes-help");
    const said = (box.getAttribute("aria-describedby") ?? "").split(" ").map((id) => document.getElementById(id));
    const words = said.find((one) => one && details?.contains(one));
    if (!words) {
      return;
    }
    event.preventDefault();
    details.open = true;
    words.tabIndex = -1;
    words.focus();
    words.addEventListener("keydown", (back) => {
      if (back.key === "Escape" || back.key === "F1" || back.key === "Enter") {
        back.preventDefault();
        details.open = false;
        box.focus();
      }
    }, { once: true });
  }
}

const sheetForm = document.getElementById("sheet");
if (sheetForm) {
  new SheetKeys(sheetForm);
  for (const shown of document.querySelectorAll("[data-with-script]")) {
    shown.hidden = false;
  }
  for (const unneeded of document.querySelectorAll("[data-without-script]")) {
    unneeded.hidden = true;
  }
}
