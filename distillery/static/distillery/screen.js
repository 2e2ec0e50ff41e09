// Changes day and night, or the size, without leaving the page, so that nothing half typed is lost. Without this the
// press sends the form, and the page comes again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  const press = event.submitter;
  if (!(form instanceof HTMLFormElement) || !form.dataset.screen || !(press instanceof HTMLButtonElement)) {
    return;
  }
  event.preventDefault();
  const sent = new FormData(form);
  sent.set(press.name, press.value);
  // Where the site is away the page still changes; it is asked again at the next one.
  fetch(form.action, { method: "POST", body: sent, redirect: "manual" }).catch(() => {});
  const where = form.dataset.screen === "theme" ? document.documentElement : document.body;
  for (const one of form.querySelectorAll("button")) {
    one.setAttribute("aria-pressed", String(one === press));
    where.classList.toggle(one.value, one === press);
  }
});
