// A stroke goes to the find box from anywhere but a box that something is typed into; without this nothing is lost.
document.addEventListener("keydown", (event) => {
  const at = event.target;
  const typing = at instanceof HTMLElement && (at.isContentEditable || at.matches("input, select, textarea"));
  if (event.key !== "/" || typing || event.ctrlKey || event.metaKey || event.altKey) {
    return;
  }
  const box = document.getElementById("find");
  if (box instanceof HTMLInputElement) {
    event.preventDefault();
    box.focus();
    box.select();
  }
});
