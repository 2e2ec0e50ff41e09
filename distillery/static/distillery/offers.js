// Below a box whose number is one of too many for a list, the few that fit what is typed: arrows go through them,
// Enter takes one, Escape shuts them. The box stays a box: without this, what is typed in it is understood all the same.
const WAIT_MS = 150;

class Offers {
  constructor(box, number) {
    this.box = box;
    this.list = document.createElement("ul");
    this.said = document.createElement("p");
    this.asked = 0;
    this.chosen = -1;
    this.waiting = 0;
    this.list.id = `offers-${number}`;
    this.list.className = "offers";
    this.list.hidden = true;
    this.list.setAttribute("role", "listbox");
    this.list.setAttribute("aria-label", `${labelOf(box)}: those that fit`);
    this.said.className = "field-help";
    this.said.setAttribute("role", "status");
    box.setAttribute("role", "combobox");
    box.setAttribute("aria-autocomplete", "list");
    box.setAttribute("aria-controls", this.list.id);
    box.setAttribute("aria-expanded", "false");
    const around = box.closest(".box") ?? box;
    around.classList.add("with-offers");
    around.append(this.list);
    around.after(this.said);
    box.addEventListener("input", () => this.typed());
    box.addEventListener("keydown", (event) => this.pressed(event));
    box.addEventListener("blur", () => this.shut());
    // A press on an offer must not take the focus from the box before the offer is taken.
    this.list.addEventListener("mousedown", (event) => event.preventDefault());
    this.list.addEventListener("click", (event) => {
      const offer = event.target instanceof Element ? event.target.closest("[role=option]") : null;
      if (offer) {
        this.take(offer);
      }
    });
  }

  typed() {
    clearTimeout(this.waiting);
    this.asked += 1;
    if (!this.box.value.trim()) {
      this.said.textContent = "";
      this.shut();
      return;
    }
    this.waiting = setTimeout(() => this.ask(this.asked), WAIT_MS);
  }

  async ask(asked) {
    const address = new URL(this.box.dataset.offers, location.href);
    address.searchParams.set("q", this.box.value.trim());
    let answer;
    try {
      const came = await fetch(address, { headers: { Accept: "application/json" } });
      answer = came.ok && !came.redirected ? await came.json() : null;
    } catch {
      answer = null;
    }
    // Only the answer to what stands in the box now is shown, and nothing where none came.
    if (asked === this.asked && document.activeElement === this.box) {
      this.show(answer ? answer.casks : [], answer ? answer.said : "");
    }
  }

  show(casks, said) {
    this.list.replaceChildren(...casks.map((cask, place) => this.offer(cask, place)));
    this.said.textContent = said || (casks.length ? `${casks.length} ${casks.length === 1 ? "fits" : "fit"}.` : "");
    this.chosen = -1;
    this.box.removeAttribute("aria-activedescendant");
    this.list.hidden = !casks.length;
    this.box.setAttribute("aria-expanded", String(!this.list.hidden));
  }

  offer(cask, place) {
    const line = document.createElement("li");
    const number = document.createElement("b");
    number.textContent = cask.number;
    line.id = `${this.list.id}-${place}`;
    line.dataset.number = cask.number;
    line.setAttribute("role", "option");
    line.setAttribute("aria-selected", "false");
    line.append(number, ` ${cask.about}`);
    return line;
  }

  pressed(event) {
    if (this.list.hidden) {
      if (event.key === "ArrowDown" && this.box.value.trim()) {
        event.preventDefault();
        this.typed();
      }
      return;
    }
    const offers = this.list.children;
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      const step = event.key === "ArrowDown" ? 1 : -1;
      this.choose(this.chosen < 0 && step < 0 ? offers.length - 1 : (this.chosen + step + offers.length) % offers.length);
    } else if (event.key === "Enter" && this.chosen >= 0) {
      event.preventDefault();
      this.take(offers[this.chosen]);
    } else if (event.key === "Escape") {
      event.preventDefault();
      this.shut();
    }
  }

  choose(place) {
    for (const [at, offer] of [...this.list.children].entries()) {
      offer.setAttribute("aria-selected", String(at === place));
    }
    this.chosen = place;
    this.box.setAttribute("aria-activedescendant", this.list.children[place].id);
    this.list.children[place].scrollIntoView({ block: "nearest" });
  }

  take(offer) {
    this.box.value = offer.dataset.number;
    this.box.dispatchEvent(new Event("change", { bubbles: true }));
    this.said.textContent = "";
    this.shut();
  }

  shut() {
    clearTimeout(this.waiting);
    this.asked += 1;
    this.chosen = -1;
    this.list.hidden = true;
    this.box.setAttribute("aria-expanded", "false");
    this.box.removeAttribute("aria-activedescendant");
  }
}

function labelOf(box) {
  return box.labels?.[0]?.firstChild?.textContent?.trim() || "Number";
}

for (const [number, box] of document.querySelectorAll("input[data-offers]").entries()) {
  new Offers(box, number);
}
