// The line works as a plain form. This keeps the cursor in it and, when a laptop shows why
// beside the tray, hangs the string from the cell to its tag.
const line = document.getElementById("line");

function focusAtEnd() {
  line.focus({ preventScroll: true });
  line.setSelectionRange(line.value.length, line.value.length);
}

// On a touch screen the pad listens instead: the device's own keyboard would cover the tray.
if (line && !line.disabled && line.checkVisibility() && !document.body.classList.contains("wants-pad")) focusAtEnd();

document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id !== "why") return;
  const from = event.detail.requestConfig.elt.closest("[data-cell]");
  for (const cell of document.querySelectorAll(".cell.why-at")) cell.classList.remove("why-at");
  if (from) from.classList.add("why-at");
});
