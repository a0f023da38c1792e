// The clock of the run card, and SHUT DOWN on the screen at once. Without this the card still
// works: the times to look at are written on it, and SHUT DOWN is a page of its own.
const down = document.querySelector("[data-down]");
const shut = document.querySelector("[data-shut]");
const clock = document.querySelector("[data-clock]");

function fill(what, when, first) {
  if (!down || !down.hidden) return;
  if (what) down.querySelector("[data-down-what]").textContent = what;
  down.querySelector("[data-down-when]").textContent = when;
  const why = first && down.querySelector("[data-why-first]");
  if (why) why.checked = true;
  if (first) down.setAttribute("role", "alert");
  down.hidden = false;
  document.body.classList.add("shutting-down");
  for (const part of document.querySelectorAll("body > .head, main > :not([data-down])")) {
    part.inert = true;
  }
  down.focus();
}

function back() {
  down.hidden = true;
  down.removeAttribute("role");
  document.body.classList.remove("shutting-down");
  for (const part of document.querySelectorAll("[inert]")) part.inert = false;
  if (shut) shut.focus();
}

if (down && shut) {
  shut.addEventListener("click", (event) => {
    event.preventDefault();
    fill("", "", false);
  });
  const still = down.querySelector("[data-down-back]");
  if (still) {
    still.addEventListener("click", (event) => {
      event.preventDefault();
      back();
    });
  }
}

if (clock) {
  // The server says how long it has been; this device only counts on from there.
  const loaded = Date.now() - Number(clock.dataset.elapsed) * 1000;
  const limit = clock.dataset.limit ? Number(clock.dataset.limit) : null;
  const secs = clock.querySelector("[data-secs]");
  const left = clock.querySelector("[data-left]");
  const ticks = [...document.querySelectorAll("[data-ticks] i")];
  if (left) clock.querySelector("[data-left-w]").textContent = "left";
  let warned = false;

  const tick = () => {
    const gone = Math.max(0, (Date.now() - loaded) / 1000);
    secs.textContent = String(Math.floor(gone));
    if (left) left.textContent = `${Math.max(0, Math.ceil(limit - gone))} s`;
    ticks.forEach((one, number) => one.classList.toggle("on", number < Math.floor(gone)));
    if (limit !== null && gone >= limit && !warned) {
      warned = true;
      fill("Oil pressure: none", `${limit} s after the start`, true);
    }
  };
  tick();
  setInterval(tick, 200);
  document.addEventListener("visibilitychange", tick);
  // A page out of the browser's memory counts from a stale moment: ask the server again.
  addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });
}

// A screen that goes dark hides the clock. Where the device does not allow it, it goes dark.
async function keepLit() {
  if (!("wakeLock" in navigator) || document.visibilityState !== "visible") return;
  try {
    await navigator.wakeLock.request("screen");
  } catch (refusal) {
    console.info(`The screen may go dark: ${refusal.message}`);
  }
}
if (document.querySelector("[data-run]")) {
  keepLit();
  document.addEventListener("visibilitychange", keepLit);
}
