// DAY, DIM, SUN without a page load. The form works by itself when this does not run.
// With nothing chosen yet the device's wish is proposed: dark -> DIM, more contrast -> SUN.
const root = document.documentElement;
const form = document.querySelector("[data-switch]");

function show(mode) {
  root.dataset.mode = mode;
  for (const button of form.querySelectorAll("button")) {
    button.setAttribute("aria-pressed", String(button.value === mode));
  }
}

if ("modeOpen" in root.dataset) {
  if (matchMedia("(prefers-contrast: more)").matches) show("sun");
  else if (matchMedia("(prefers-color-scheme: dark)").matches) show("dim");
}

form.addEventListener("submit", (event) => {
  const mode = event.submitter && event.submitter.value;
  if (!mode) return;
  event.preventDefault();
  show(mode);
  delete root.dataset.modeOpen;
  // A year: the choice belongs to the device, not to the visit.
  document.cookie = `mode=${mode}; path=/; max-age=31536000; samesite=lax`;
});
