// Security keys and cards: the browser asks the key, the site checks what it says. Without this, PIN or password.
const asked = async (address, form, body) => {
  body.set("csrfmiddlewaretoken", form.querySelector("input[name=csrfmiddlewaretoken]").value);
  const answer = await fetch(address, { method: "POST", headers: { Accept: "application/json" }, body });
  const said = await answer.json();
  if (!answer.ok) {
    throw new Error((said.sentences ?? ["It was refused; try again."]).join(" "));
  }
  return said;
};

const say = (form, sentence) => {
  const line = document.createElement("p");
  line.className = "field-error";
  line.textContent = sentence;
  form.querySelector(".key-said").replaceChildren(line);
};

const inWords = (error) =>
  error.name === "NotAllowedError" || error.name === "AbortError"
    ? "No key answered. Touch it when it blinks, or hold the card to the reader."
    : error.name === "InvalidStateError"
      ? "That key is registered already."
      : error.message;

const take = async (form, address) => {
  const body = new FormData();
  const name = form.querySelector(".names input:checked");
  body.set("username", name === null ? "" : name.value);
  const options = await asked(address, form, body);
  const credential = await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(options) });
  const answer = new FormData();
  answer.set("answer", JSON.stringify(credential.toJSON()));
  const now = await asked(address, form, answer);
  if (form.closest("dialog") === null) {
    const next = form.querySelector("input[name=next]")?.value ?? "";
    window.location.assign(next.startsWith("/") && !next.startsWith("//") ? next : "/");
  } else {
    document.dispatchEvent(new CustomEvent("gaugebook:key-taken", { detail: now }));
  }
};

const register = async (form) => {
  const options = await asked(form.action, form, new FormData(form));
  const credential = await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(options) });
  const answer = new FormData(form);
  answer.set("answer", JSON.stringify(credential.toJSON()));
  window.location.assign((await asked(form.action, form, answer)).next);
};

document.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-take-key], [data-register-key]") : null;
  if (button === null) {
    return;
  }
  event.preventDefault();
  try {
    await (button.dataset.takeKey === undefined ? register(button.form) : take(button.form, button.dataset.takeKey));
  } catch (error) {
    say(button.form, inWords(error));
  }
});
