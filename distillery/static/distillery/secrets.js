// Where a PIN or password is typed: shown or hidden by choice, Enter on a name goes on to the box, digits of a keypad.
const secretOf = (form) => form.querySelector("[data-secret], input[name=password]");

document.addEventListener("change", (event) => {
  const choice = event.target;
  if (choice instanceof HTMLInputElement && choice.dataset.show !== undefined) {
    for (const id of choice.dataset.show.split(" ")) {
      const box = choice.form.querySelector(`#${id}`);
      if (box !== null) {
        box.type = choice.checked ? "text" : "password";
      }
    }
  }
});

document.addEventListener("keydown", (event) => {
  const name = event.target;
  if (event.key === "Enter" && name instanceof HTMLInputElement && name.type === "radio" && name.closest(".names") !== null) {
    event.preventDefault();
    name.checked = true;
    secretOf(name.form).focus();
  }
});

const beginAt = (form) => {
  const chosen = form.querySelector(".names input:checked");
  const first = form.querySelector(".names input");
  (chosen === null ? first : secretOf(form)).focus();
};

const shown = document.querySelector("main .names");
if (shown !== null) {
  beginAt(shown.closest("form"));
}

// Keys of 80 px for who stands before a touch screen: beside the box, never in place of the keyboard.
document.addEventListener("click", (event) => {
  const key = event.target instanceof Element ? event.target.closest("[data-digit]") : null;
  if (key === null) {
    return;
  }
  const box = key.closest("form").querySelector("[data-secret]");
  box.value = key.dataset.digit === "back" ? box.value.slice(0, -1) : box.value + key.dataset.digit;
  for (const kind of ["input", "change"]) {
    box.dispatchEvent(new Event(kind, { bubbles: true }));
  }
});

// Where fingers are the first way to point, the keys stand open.
const openKeys = (within) => {
  if (matchMedia("(pointer: coarse)").matches) {
    for (const keys of within.querySelectorAll("details.digits")) {
      keys.open = true;
    }
  }
};
openKeys(document);
document.addEventListener("gaugebook:asks-who", (event) => openKeys(event.target));
