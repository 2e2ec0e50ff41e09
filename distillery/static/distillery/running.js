// Enter goes on to the next box of a line and saves from the last; F8 saves from anywhere. The page does both without.
"use strict";

(() => {
  const boxes = (form) =>
    [...form.querySelectorAll("input:not([type=hidden]), select")].filter((box) => box.closest("details:not([open])") === null);

  document.addEventListener("keydown", (event) => {
    if (event.key === "F8") {
      const here = document.activeElement && document.activeElement.closest("form");
      const save = (here && here.querySelector("[data-save]")) || document.querySelector("[data-save]");
      if (save) {
        event.preventDefault();
        save.click();
      }
      return;
    }
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") {
      return;
    }
    const form = event.target.form;
    if (!form || !form.querySelector("[data-save]")) {
      return;
    }
    const all = boxes(form);
    const next = all[all.indexOf(event.target) + 1];
    if (next && event.target.value.trim() !== "") {
      event.preventDefault();
      next.focus();
      next.select();
    }
  });
})();
