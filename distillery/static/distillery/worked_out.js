// What the rows of a sheet come to, asked of the site as a row is left. Nothing is saved by it, and where no answer
// comes the ends of the rows stay as they are.
const WORKED_OUT_AFTER_MS = 60;

class WorkedOut {
  constructor(form) {
    this.form = form;
    this.asked = 0;
    this.waiting = 0;
    this.changed = null;
    this.row = null;
    this.status = document.getElementById("worked-out");
    form.addEventListener("change", (event) => {
      this.changed = event.target;
      this.row = rowOf(event.target);
      this.soon();
    });
    form.addEventListener("focusin", () => this.soon());
  }

  // Once the row is left: halfway along it there is nothing to work out yet.
  soon() {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => {
      const now = document.activeElement;
      const goesOn = this.row && now !== this.changed && rowOf(now) === this.row;
      if (this.changed && !goesOn) {
        this.changed = null;
        this.ask();
      }
    }, WORKED_OUT_AFTER_MS);
  }

  async ask() {
    this.asked += 1;
    const asked = this.asked;
    const said = new FormData(this.form);
    let answer = null;
    try {
      const came = await fetch(this.form.dataset.workOut, {
        method: "POST",
        body: said,
        headers: { Accept: "application/json" },
      });
      answer = came.ok && !came.redirected ? await came.json() : null;
    } catch {
      answer = null;
    }
    // Only the answer to what stands on the sheet now is shown.
    if (answer && asked === this.asked) {
      this.show(answer);
    }
  }

  show(answer) {
    for (const row of this.form.querySelectorAll("tr[data-gauge]")) {
      this.end(row, answer.gauges[row.dataset.gauge], `[data-why="${row.dataset.gauge}"]`);
    }
    for (const row of this.form.querySelectorAll("tr[data-line]")) {
      this.end(row, answer.lines[Number(row.dataset.line) - 1], `[data-why-line="${row.dataset.line}"]`);
    }
    for (const about of this.form.querySelectorAll("[data-about]")) {
      about.textContent = answer.vessels[about.dataset.about] ?? "";
    }
    for (const name of this.form.querySelectorAll("[data-name]")) {
      name.textContent = answer.names[name.dataset.name] || name.textContent;
    }
    document.getElementById("comes-to").innerHTML = answer.sums;
  }

  end(row, came, where) {
    for (const cell of row.querySelectorAll("[data-end]")) {
      cell.textContent = came?.[cell.dataset.end] ?? "";
    }
    const why = this.form.querySelector(where);
    if (why) {
      why.firstElementChild.textContent = came?.why ?? "";
      why.hidden = !came?.why;
    }
    if (row === this.row && came?.lpa) {
      this.status.textContent = `${came.litres} litres, ${came.percent} % vol, ${came.lpa} LPA`;
    }
  }
}

function rowOf(box) {
  return box?.closest?.("tr[data-gauge], tr[data-line]") ?? null;
}

if (document.querySelector("form[data-work-out]")) {
  new WorkedOut(document.querySelector("form[data-work-out]"));
}
