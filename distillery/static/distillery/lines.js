// Lines that repeat: a column or block of figures pasted over them, what stands above taken with the ditto mark or down
// a whole column, and another line where Enter leaves the last one. Without this, 'More lines' adds some.
const MOST_LINES = 500;

class Lines {
  constructor(table) {
    this.table = table;
    this.form = table.closest("form");
    this.count = this.form.elements.namedItem("lines");
    this.spare = table.parentElement.querySelector("template");
    table.addEventListener("paste", (event) => this.pasted(event));
    table.addEventListener("keydown", (event) => this.pressed(event));
    this.form.addEventListener("sheet:end", (event) => this.left(event));
    for (const [column, head] of [...table.tHead.rows[0].querySelectorAll("[data-column]")].entries()) {
      // What names a line differs on each of them.
      if (column > 0) {
        head.append(this.fillDown(column, head.dataset.column));
      }
    }
  }

  rows() {
    return [...this.table.tBodies[0].querySelectorAll("tr[data-line]")];
  }

  boxesOf(row) {
    return [...row.querySelectorAll("input:not([type=hidden]), select")];
  }

  add() {
    const number = this.rows().length;
    if (number >= MOST_LINES) {
      return null;
    }
    const line = this.spare.content.cloneNode(true);
    const [first] = line.children;
    for (const one of line.querySelectorAll("*")) {
      for (const name of ["name", "id", "for"]) {
        const said = one.getAttribute(name);
        if (said) {
          one.setAttribute(name, said.replace("line-spare-", `line-${number}-`));
        }
      }
    }
    first.dataset.line = String(number + 1);
    first.querySelector("th").textContent = String(number + 1);
    for (const label of first.querySelectorAll("label")) {
      label.textContent = label.textContent.replace(/ on line /, ` on line ${number + 1}`);
    }
    const why = line.querySelector("[data-why-line]");
    if (why) {
      why.dataset.whyLine = String(number + 1);
    }
    this.table.tBodies[0].append(line);
    this.count.value = String(number + 1);
    this.form.dispatchEvent(new CustomEvent("sheet:line", { bubbles: true, detail: first }));
    for (const [place, box] of first.querySelectorAll("input[data-offers]").entries()) {
      new Offers(box, `${number}-${place}-added`);
    }
    return first;
  }

  left(event) {
    const row = event.detail.closest?.("tr[data-line]");
    const last = this.rows().at(-1);
    if (row !== last || !this.boxesOf(row).some((box) => box.value.trim())) {
      return;
    }
    const added = this.add();
    if (added) {
      event.preventDefault();
      this.boxesOf(added)[0].focus();
      added.scrollIntoView({ block: "nearest" });
    }
  }

  pasted(event) {
    const text = event.clipboardData?.getData("text/plain") ?? "";
    if (!/[\t\n]/.test(text.trimEnd()) && !text.includes("\t")) {
      return;
    }
    const start = event.target.closest("tr[data-line]");
    if (!start) {
      return;
    }
    event.preventDefault();
    const column = this.boxesOf(start).indexOf(event.target);
    let row = start;
    let last = event.target;
    for (const line of text.replace(/\r/g, "").replace(/\n+$/, "").split("\n")) {
      row ??= this.add();
      if (!row) {
        break;
      }
      for (const [place, figure] of line.split("\t").entries()) {
        const box = this.boxesOf(row)[column + place];
        if (box) {
          put(box, figure.trim());
          last = box;
        }
      }
      row = this.rows()[this.rows().indexOf(row) + 1] ?? null;
    }
    last.focus();
    said(last);
  }

  pressed(event) {
    const row = event.target.closest("tr[data-line]");
    if (event.key !== '"' || !row || event.target.value) {
      return;
    }
    const before = this.rows()[this.rows().indexOf(row) - 1];
    const above = before ? this.boxesOf(before)[this.boxesOf(row).indexOf(event.target)] : null;
    if (above?.value) {
      event.preventDefault();
      put(event.target, above.value);
      said(event.target);
    }
  }

  fillDown(column, label) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plain fill-down";
    button.tabIndex = -1;
    button.textContent = "same";
    button.setAttribute("aria-label", `${label}: the same down the blank boxes`);
    button.addEventListener("click", () => {
      let above = "";
      let changed = null;
      for (const row of this.rows()) {
        const boxes = this.boxesOf(row);
        if (boxes[column].value.trim()) {
          above = boxes[column].value;
        } else if (above && boxes.some((box) => box.value.trim())) {
          put(boxes[column], above);
          changed = boxes[column];
        }
      }
      if (changed) {
        said(changed);
      }
    });
    return button;
  }
}

// Lets whoever listens know of what was not typed key by key.
function said(box) {
  for (const kind of ["input", "change"]) {
    box.dispatchEvent(new Event(kind, { bubbles: true }));
  }
}

function put(box, text) {
  if (box.tagName !== "SELECT") {
    box.value = text;
    return;
  }
  const wanted = text.toLowerCase();
  const option = [...box.options].find((one) => [one.value, one.text].some((text) => text.toLowerCase() === wanted));
  if (option) {
    box.value = option.value;
  }
}

for (const table of document.querySelectorAll("table[data-lines]")) {
  new Lines(table);
}
