// Whose hands are on each form: the page says, signed, who has the pen; a form that was typed in keeps who had it then.
const BOX = "input[name=pen]";
const typed = new Map();
let pen = null;

const tokensOf = (form) => [...form.querySelectorAll(BOX)];

const carry = (form, people) => {
  const boxes = tokensOf(form);
  const place = boxes[0].parentNode;
  const made = [...people].map(([username, person]) => {
    const box = document.createElement("input");
    Object.assign(box, { type: "hidden", name: "pen", value: person.token });
    box.dataset.username = username;
    box.dataset.short = person.short;
    return box;
  });
  place.prepend(...made);
  boxes.forEach((box) => box.remove());
};

const words = (form, people) => {
  const pressed = form.querySelector("[data-save]") ?? [...form.querySelectorAll(".buttons button:not(.plain)")].at(-1);
  if (pressed === undefined) {
    return;
  }
  const button = pressed.querySelector("span") ?? pressed;
  button.dataset.words ??= button.textContent.trim().split(": ")[0];
  const names = [...people.keys()];
  const alone = names.length === 0 || (names.length === 1 && names[0] === pen.username);
  const said = [...people.values()].map((person) => person.short).join(" and ");
  button.textContent = alone ? button.dataset.words : `${button.dataset.words}: ${said} typed, ${pen.short} saves`;
};

const write = (form) => {
  if (form === null || tokensOf(form).length === 0) {
    return;
  }
  const people = typed.get(form) ?? new Map();
  if (!people.has(pen.username)) {
    people.set(pen.username, { token: pen.token, short: pen.short });
    typed.set(form, people);
    carry(form, people);
    words(form, people);
  }
};

export const hands = {
  // A form that came back with what was typed in it says whose hands it was in before.
  begin(now) {
    pen = { ...now };
    for (const form of document.forms) {
      const boxes = tokensOf(form).filter((box) => "typed" in box.dataset);
      if (boxes.length > 0) {
        typed.set(form, new Map(boxes.map((box) => [box.dataset.username, { token: box.value, short: box.dataset.short }])));
      }
    }
    document.addEventListener("input", (event) => write(event.target.form ?? null));
  },
  changed(now) {
    pen = { ...now };
    for (const form of document.forms) {
      if (tokensOf(form).length > 0) {
        const people = typed.get(form) ?? new Map();
        carry(form, people.size > 0 ? people : new Map([[pen.username, { token: pen.token, short: pen.short }]]));
        words(form, people);
      }
    }
  },
};
