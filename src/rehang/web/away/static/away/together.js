// Together: what another writes comes onto this page within two seconds, part by part. What a
// finger is on, what is half filled in and where the page stands stay as they are.
import * as out from "../shared/outtray.js";

const ASK_MS = 1500;
const body = document.body;
const { job: slug } = body.dataset;
// What a form carries of its own is new on every page that is handed out.
const OWN = 'input[name="once"], input[name="out_once"], input[name="base"], input[name="csrfmiddlewaretoken"]';
// These count, tick or draw by a script of their own: they are left to the next page.
const ALIVE = "[data-run], [data-takes], [data-chart], [data-down], [data-line], [hx-trigger^=load]";

let known = Number(body.dataset.head);
let touched = 0;
let asking = false;

const said = (node) => {
  const bare = node.cloneNode(true);
  for (const own of bare.matches(OWN) ? [bare] : bare.querySelectorAll(OWN)) own.removeAttribute("value");
  return bare.outerHTML;
};

const isChanged = (field) =>
  field.type === "checkbox" || field.type === "radio"
    ? field.checked !== field.defaultChecked
    : field.tagName === "SELECT"
      ? [...field.options].some((one) => one.selected !== one.defaultSelected)
      : field.type !== "hidden" && field.value !== field.defaultValue;

// Whether a person is in the middle of something in there.
function isBusy(part) {
  if (part.matches(ALIVE) || part.querySelector(ALIVE)) return true;
  if (part !== document.activeElement && part.contains(document.activeElement)) return true;
  if (part.querySelector("details[open], dialog[open]") || part.matches("details[open]")) return true;
  return [...part.querySelectorAll("input, select, textarea")].some(isChanged);
}

const parts = (node) => [...node.children].filter((one) => !one.matches(".said"));

function renew(old, fresh) {
  if (said(old) === said(fresh)) return;
  const [mine, theirs] = [parts(old), parts(fresh)];
  const alike = mine.length > 0 && mine.length === theirs.length
    && mine.every((one, n) => one.tagName === theirs[n].tagName);
  const words = (node) => [...node.childNodes].filter((one) => one.nodeType === 3).map((one) => one.data.trim()).join();
  if (alike && words(old) === words(fresh) && old.className === fresh.className) {
    mine.forEach((one, n) => renew(one, theirs[n]));
    return;
  }
  if (isBusy(old)) return;
  const next = document.importNode(fresh, true);
  old.replaceWith(next);
  if (window.htmx) window.htmx.process(next);
}

// The page stays where it stands: what was in the middle of it still is.
function still(act) {
  const seen = document.elementFromPoint(innerWidth / 2, innerHeight / 2);
  const held = seen && seen.closest("[id], li, section, tr, p, main");
  const before = held ? held.getBoundingClientRect().top : 0;
  act();
  if (held && held.isConnected) scrollBy(0, held.getBoundingClientRect().top - before);
}

async function show(head) {
  if (!document.dispatchEvent(new CustomEvent("book-moved", { cancelable: true }))) {
    known = head;
    return;
  }
  // A finger is down, or was a moment ago: the part under it must not change.
  if (Date.now() - touched < 700) return;
  const answer = await fetch(location.href, { headers: { "Rehang-Ahead": "yes" } });
  if (!answer.ok || answer.redirected) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const main = page.querySelector("main");
  if (!main || Date.now() - touched < 700) return;
  still(() => {
    renew(document.querySelector("main"), main);
    for (const strip of document.querySelectorAll("[data-no-network]")) strip.hidden = true;
  });
  known = head;
  body.dataset.shown = String(head);
}

async function ask(isKept) {
  let answer;
  try {
    const at = new URLSearchParams({ at: body.dataset.at || "" });
    answer = await fetch(`/jobs/${slug}/so-far/?${at}`, { headers: { "Rehang-Ahead": "yes" } });
  } catch {
    body.dataset.network = "none";
    return isKept;
  }
  if (!answer.ok || answer.redirected) return isKept;
  const { head, now, others } = await answer.json();
  document.dispatchEvent(new CustomEvent("others-at", { detail: others }));
  out.shopSays(now);
  if (body.dataset.network === "none") out.flush();
  delete body.dataset.network;
  // A page out of this device is shown anew even where the book has not moved.
  if (head !== known || isKept) await show(head);
  return isKept && body.dataset.shown !== String(head);
}

export function together(isKept) {
  if (isKept) body.dataset.network = "none";
  let old = isKept;
  const touch = () => {
    touched = Date.now();
  };
  for (const name of ["pointerdown", "pointerup", "keydown", "scroll"]) {
    addEventListener(name, touch, { passive: true });
  }
  setInterval(async () => {
    if (asking || document.visibilityState !== "visible") return;
    asking = true;
    try {
      old = await ask(old);
    } finally {
      asking = false;
    }
  }, ASK_MS);
}
