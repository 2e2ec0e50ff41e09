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
