// Away from the network: the worker that keeps pages, the pages it keeps ahead, and what waits on
// this device, said on every page as kept and not judged yet.
import * as out from "../shared/outtray.js";
import { together } from "./together.js";

const body = document.body;
const { job: slug, person } = body.dataset;
// The pages of a job are fetched ahead again when the last ones are this old.
const AHEAD_MS = 15 * 60000;
const isKept = !document.querySelector("[data-no-network]").hidden;

// Which form of the page was sent, in words: the out-tray says it, should the shop not answer.
document.addEventListener("submit", ({ target, submitter }) => {
  const part = target.closest("li, section, article, details, dialog");
  const title = part && part.querySelector("h1, h2, h3, b, summary");
  const words = [title || document.querySelector("h1"), submitter]
    .map((one) => (one ? (one.innerText || one.value || "").replace(/\s+/g, " ").trim() : ""))
    .filter(Boolean);
  const worker = navigator.serviceWorker && navigator.serviceWorker.controller;
  if (worker) worker.postMessage({ what: "label", label: words.join(": ").slice(0, 120) });
}, true);

function said(row) {
  const { entry } = row;
  return `${entry.place || ""} ${entry.written || entry.word || entry.kind}`.trim();
}

function line(row) {
  const item = document.createElement("li");
  const what = document.createElement("b");
  what.textContent = said(row);
  item.append(what);
  if (row.sentence) {
    const why = document.createElement("span");
    why.className = "small";
    why.textContent = row.sentence;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button";
    button.textContent = "TAKE OUT";
    button.addEventListener("click", () => out.takeOutRefused(row.n));
    item.append(why, button);
  }
  return item;
}

// The tray has a list of its own, and the pad above it stays where it is.
const list = document.querySelector("[data-kept-here]");
if (list && person) {
  list.querySelector("[data-save]").addEventListener("click", out.saveCopy);
  list.querySelector("[data-bring]").addEventListener("change", async ({ target }) => {
    const told = list.querySelector("[data-brought]");
    try {
      const number = await out.bringIn(await target.files[0].text());
      told.textContent = `${number} brought in.`;
      out.flush();
    } catch (problem) {
      told.textContent = problem.message;
    }
  });
  out.onChange((news, rows, aside) => {
    list.querySelector("[data-waits]").textContent = rows.length
      ? `${rows.length} KEPT ON THIS PHONE, NOT JUDGED YET`
      : "";
    list.querySelector("[data-aside]").textContent = aside.length ? "The book did not take:" : "";
    list.querySelector("[data-rows]").replaceChildren(...rows.map(line));
    list.querySelector("[data-aside-rows]").replaceChildren(...aside.map(line));
    list.hidden = !rows.length && !aside.length && location.hash !== "#kept-here";
    if (news && news.sent) body.dataset.sent = String(news.sent);
  });
  addEventListener("hashchange", out.look);
  out.look();
}

function ask(worker, message) {
  return new Promise((resolve, reject) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = ({ data }) => (data.why ? reject(new Error(data.why)) : resolve());
    worker.postMessage(message, [port2]);
  });
}

// One page after the other; where this page goes, the next one goes on.
async function ahead(worker) {
  const key = `ahead-${person}-${slug}`;
  let { at, n } = JSON.parse(localStorage.getItem(key) || "null") || { at: 0, n: 0 };
  if (n === 0 && Date.now() - at < AHEAD_MS) {
    body.dataset.ahead = "yes";
    return;
  }
  const answer = await fetch(`/jobs/${slug}/ahead/`);
  if (!answer.ok || answer.redirected) return;
  const { urls } = await answer.json();
  const files = performance.getEntriesByType("resource").map((one) => new URL(one.name).pathname);
  await ask(worker, { what: "files", files: files.filter((one) => one.startsWith("/static/")) });
  for (; n < urls.length; n += 1) {
    await ask(worker, { what: "ahead", url: urls[n] });
    localStorage.setItem(key, JSON.stringify({ at, n: n + 1 }));
  }
  localStorage.setItem(key, JSON.stringify({ at: Date.now(), n: 0 }));
  body.dataset.ahead = "yes";
}

async function begin() {
  if (!("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register("/worker.js", { updateViaCache: "none" });
  const { active } = await navigator.serviceWorker.ready;
  body.dataset.worker = "ready";
  if (slug && !isKept) await ahead(active);
}

if (slug && person) together(isKept);
if (person) begin().catch((problem) => console.info(`Not every page is kept here: ${problem.message}`));
