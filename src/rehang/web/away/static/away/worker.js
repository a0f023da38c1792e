// Pages without a network. What was shown to the person signed in here is kept for that person
// alone, under their name, and goes when they sign out or another signs in. A form that cannot be
// sent is laid in the out-tray, and the page says so; nothing is judged here.

// A shop's Wi-Fi that does not answer for so long is none.
const PATIENCE_MS = 5000;
// A form has longer: it may be a photo. Sent twice, the book keeps it once.
const FORM_PATIENCE_MS = 60000;
const NOTES = "notes";
const FILES = "files";
const of = (person) => `of-${person}`;
// A PIN or password is never laid down anywhere.
const SECRET = ["pin", "password"];
const NO_SECRET = "This takes a PIN or a password, and neither is kept on a phone. Nothing was written."
  + " Do it in the shop's Wi-Fi.";
const NO_ROOM = "This phone could not keep it. Write it on paper, then make room on the phone.";
// A fetch that began before the person changed says nothing of who is here now.
let changedAt = 0;
// What is kept and what is cleared take turns: a page laid down after its person has gone would stay.
let lastTurn = Promise.resolve();
const inTurn = (work) => (lastTurn = lastTurn.then(work, work));

addEventListener("install", () => skipWaiting());
addEventListener("activate", (event) => event.waitUntil(clients.claim()));

async function note(name, value) {
  const notes = await caches.open(NOTES);
  if (value === undefined) {
    const found = await notes.match(`/${name}`);
    return found ? found.text() : "";
  }
  await notes.put(`/${name}`, new Response(value));
  return value;
}

async function clear(but) {
  changedAt = Date.now();
  for (const name of await caches.keys()) {
    if (name.startsWith("of-") && name !== but) await caches.delete(name);
  }
}

// Whether an answer is of the person who is here, whom it may have changed. A page without a
// name on it is the door: nobody is signed in.
async function isOfHere(answer, began) {
  const said = answer.headers.get("Rehang-Person");
  if (said === null) return false;
  if (said !== (await note("person"))) {
    if (began < changedAt) return false;
    await clear(said && of(said));
    await note("person", said);
  }
  return said !== "";
}

async function keep(request, answer, began) {
  if (answer.status !== 200 || answer.redirected) return;
  const head = new Headers(answer.headers);
  head.set("Rehang-Shown", new Date().toISOString());
  const page = new Response(await answer.blob(), { status: 200, headers: head });
  await inTurn(async () => {
    if (!(await isOfHere(answer, began))) return;
    const pages = await caches.open(of(answer.headers.get("Rehang-Person")));
    await pages.put(keyOf(request), page);
  });
}

const keyOf = (request) => new URL(request.url).href.split("#")[0];

async function inTime(request, ms, more) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ms);
  try {
    return await fetch(request, { ...more, signal: stop.signal });
  } finally {
    clearTimeout(timer);
  }
}

const two = (n) => String(n).padStart(2, "0");

function moment(said) {
  const at = new Date(said);
  const day = at.toDateString() === new Date().toDateString() ? "" : `${at.toDateString().slice(4, 10)} `;
  return `${day}${two(at.getHours())}:${two(at.getMinutes())}`;
}

const asOf = (said) => `No answer from the shop. As of ${moment(said)}.`;

function newOnce() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((x) => two(x.toString(16))).join("");
}

const newId = () => newOnce().replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");

// A page as it was last shown here, with its age on it, and forms that are new ones.
async function asKept(found) {
  const head = new Headers(found.headers);
  if (!(head.get("Content-Type") || "").startsWith("text/html")) return found;
  const html = (await found.text())
    .replace(/(name="(?:once|out_once)" value=")[0-9a-f]{32}"/g, (all, before) => `${before}${newOnce()}"`)
    .replace(/(name="base" value=")[0-9a-f-]{36}"/g, (all, before) => `${before}${newId()}"`)
    .replace("data-no-network hidden>", () => `data-no-network>${asOf(head.get("Rehang-Shown"))}`);
  return new Response(html, { status: 200, headers: head });
}

async function keptPage(request) {
  const person = await note("person");
  if (!person) return null;
  const pages = await caches.open(of(person));
  const plain = new URL(request.url).pathname;
  // The tray says in its address where one is; the kept one is at another hole.
  const found = (await pages.match(keyOf(request))) || (await pages.match(plain, { ignoreSearch: true }));
  return found || null;
}

function plainly(sentence, status = 503) {
  const html = `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>No network</title>
<link rel="stylesheet" href="/static/shared/tokens.css"><link rel="stylesheet" href="/static/shared/blocks.css">
<link rel="stylesheet" href="/static/shared/pages.css"></head>
<body><main class="page"><h1 class="heading">No network</h1>
<p>${sentence}</p><p class="row-acts"><a class="button main" href="/">TO THE BOARD</a></p></main></body></html>`;
  return new Response(html, { status, headers: { "Content-Type": "text/html; charset=utf-8" } });
}

async function shown(event) {
  const began = Date.now();
  // Where nothing is kept a slow answer is waited for: only the network says that there is none.
  const kept = await keptPage(event.request);
  try {
    const answer = await (kept ? inTime(event.request, PATIENCE_MS) : fetch(event.request));
    // Between the phone and the shop, and not of it.
    if (answer.status === 502 || answer.status === 504) return kept ? asKept(kept) : answer;
    // A way onward carries no name; the page it leads to does.
    if (answer.type !== "opaqueredirect") event.waitUntil(keep(event.request, answer.clone(), began));
    return answer;
  } catch (problem) {
    if (kept) return asKept(kept);
    return plainly("This page was not opened on this phone before. Go where the shop's Wi-Fi reaches.");
  }
}

async function file(event) {
  try {
    const answer = await inTime(event.request, PATIENCE_MS);
    if (answer.ok) {
      const copy = answer.clone();
      event.waitUntil(caches.open(FILES).then((files) => files.put(event.request, copy)));
    }
    return answer;
  } catch (problem) {
    const found = await caches.match(event.request, { cacheName: FILES });
    if (found) return found;
    throw problem;
  }
}

function outTray() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open("rehang", 1);
    opening.onupgradeneeded = () => {
      opening.result.createObjectStore("out", { keyPath: "n", autoIncrement: true });
      opening.result.createObjectStore("refused", { keyPath: "n", autoIncrement: true });
    };
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
}

async function lay(row) {
  const db = await outTray();
  await new Promise((resolve, reject) => {
    const change = db.transaction("out", "readwrite", { durability: "strict" });
    change.objectStore("out").add(row);
    change.oncomplete = resolve;
    change.onerror = change.onabort = () => reject(change.error);
  });
  db.close();
}

// A form that the shop did not answer: kept as it was filled in, or said why it cannot be.
async function layForm(request, at, person) {
  const url = new URL(request.url);
  const fields = [...(await request.formData()).entries()].filter(([name]) => name !== "csrfmiddlewaretoken");
  if (fields.some(([name, value]) => SECRET.includes(name) && value)) {
    return plainly(NO_SECRET);
  }
  const [, , slug] = url.pathname.split("/");
  const label = (await note("label")) || url.pathname;
  try {
    const once = fields.find(([name]) => name === "once");
    const entry = { id: once ? once[1] : newOnce(), kind: label };
    await lay({ slug, person, entry, form: { url: url.pathname + url.search, fields }, kept: at });
  } catch (problem) {
    return plainly(`${NO_ROOM} (${problem.name})`, 507);
  }
  const next = fields.find(([name]) => name === "next");
  const onto = new URL((next && next[1]) || request.referrer || "/", url);
  return Response.redirect(onto.origin === url.origin ? onto.href : "/", 303);
}

async function sent(event) {
  const at = Date.now();
  const person = await note("person");
  const copy = event.request.clone();
  try {
    const answer = await inTime(event.request, FORM_PATIENCE_MS);
    if (answer.status !== 502 && answer.status !== 504) return answer;
  } catch (problem) {
    console.info(`Kept in the out-tray: ${problem.message}`);
  }
  return person ? layForm(copy, at, person) : plainly("Nobody is signed in here. Nothing was written.");
}

async function signOut(event) {
  await inTurn(async () => {
    await clear("");
    await note("person", "");
  });
  try {
    return await fetch(event.request);
  } catch (problem) {
    return plainly("The pages are gone from this phone. Sign out once more in the shop's Wi-Fi.");
  }
}

addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  const moves = request.mode === "navigate";
  if (request.method === "POST" && moves) {
    if (url.pathname === "/sign-out/") event.respondWith(signOut(event));
    else if (url.pathname.startsWith("/jobs/")) event.respondWith(sent(event));
  } else if (request.method === "GET") {
    if (url.pathname.startsWith("/static/")) event.respondWith(file(event));
    else if (moves || request.destination === "image") event.respondWith(shown(event));
  }
});

// A page of a job that is open here, so that a phone which walks out of the Wi-Fi has it. Asked for
// ahead it is not shown: it says nothing that was meant for whoever looks at it.
async function ahead(one) {
  const began = Date.now();
  const request = new Request(one, { headers: { "Rehang-Ahead": "yes" }, credentials: "same-origin" });
  const answer = await inTime(request, FORM_PATIENCE_MS);
  if (!answer.ok || answer.redirected) return;
  const html = (answer.headers.get("Content-Type") || "").startsWith("text/html") ? await answer.clone().text() : "";
  await keep(request, answer, began);
  for (const [, used] of html.matchAll(/(?:href|src)="(\/static\/[^"]+)"/g)) await keepFile(used);
  for (const [, photo] of html.matchAll(/<img[^>]+src="(\/jobs\/[^"]+)"/g)) {
    if (!(await caches.match(photo))) await ahead(photo);
  }
}

async function keepFile(one) {
  const files = await caches.open(FILES);
  if (await files.match(one)) return;
  const answer = await inTime(new Request(one), FORM_PATIENCE_MS);
  if (!answer.ok) return;
  const text = one.endsWith(".js") ? await answer.clone().text() : "";
  await files.put(one, answer);
  for (const [, used] of text.matchAll(/from "(\.[^"]+)"/g)) {
    await keepFile(new URL(used, new URL(one, location.href)).pathname);
  }
}

async function keepFiles(files) {
  for (const one of files) await keepFile(one);
}

addEventListener("message", (event) => {
  const { what, label, url, files } = event.data;
  const acts = { label: () => note("label", label), ahead: () => ahead(url), files: () => keepFiles(files) };
  const tell = (why) => event.ports[0] && event.ports[0].postMessage({ why });
  event.waitUntil(acts[what]().then(() => tell(""), (problem) => tell(problem.message)));
});
