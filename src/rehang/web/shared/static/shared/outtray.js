// The out-tray: what was kept on this device and is not in the book yet: entries of the pad, and
// forms that the worker laid here when the shop did not answer.
// Each is on the disk here before anything else happens, is sent in order, and leaves
// only when the book has answered. What the book refuses is put aside with its sentence.

const body = document.body;
const slug = body.dataset.job;
const person = body.dataset.person;
// The shop did not answer: asked again after so long. A device says that it is on a network before
// anything gets through.
const AGAIN_MS = 4000;
const A_DAY_MS = 86400000;
// A clock that is further off than this is put right, and what it said is kept beside it.
const WRONG_MS = 60000;
// Sent together at most; the book takes 500.
const AT_ONCE = 100;
// Of one body; the book takes 2,621,440 bytes.
const MOST_BYTES = 2000000;
const listeners = new Set();
let sending = null;
let queued = null;
let again = 0;

const ready = new Promise((resolve, reject) => {
  const opening = indexedDB.open("rehang", 1);
  opening.onupgradeneeded = () => {
    opening.result.createObjectStore("out", { keyPath: "n", autoIncrement: true });
    opening.result.createObjectStore("refused", { keyPath: "n", autoIncrement: true });
  };
  opening.onsuccess = () => resolve(opening.result);
  opening.onerror = () => reject(opening.error);
});

async function work(name, mode, act) {
  const db = await ready;
  return new Promise((resolve, reject) => {
    // strict: the transaction is done when it is on the disk.
    const change = db.transaction(name, mode, { durability: "strict" });
    const asked = act(change.objectStore(name));
    change.oncomplete = () => resolve(asked && asked.result);
    change.onerror = () => reject(change.error);
    change.onabort = () => reject(change.error);
  });
}

const all = (name) => work(name, "readonly", (store) => store.getAll());
const rowsOf = async (name) => (await all(name)).filter((row) => row.slug === slug);

export const unsent = () => rowsOf("out");
export const refusals = () => rowsOf("refused");
export const takeOutRefused = (n) => change(() => work("refused", "readwrite", (s) => s.delete(n)));
export const takeOut = (n) => change(() => work("out", "readwrite", (s) => s.delete(n)));
export const onChange = (act) => listeners.add(act);

async function change(act) {
  await act();
  await tell(null);
}

// Keep an entry on this device. It is on the disk when this is done.
// Whoever works under supervision says under whose on the board; each line then carries it.
export async function keep(given) {
  const entry = body.dataset.under ? { ...given, under: body.dataset.under } : given;
  await work("out", "readwrite", (store) =>
    store.add({ slug, person, entry, kept: Date.now() }),
  );
  await tell(null);
}

// An id for an entry; crypto.randomUUID is only there in a secure context.
export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = [...b].map((x) => x.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

// Local time with its offset, as RFC 3339 has it.
export function now(d = new Date()) {
  const two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  const off = -d.getTimezoneOffset();
  const day = `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`;
  const time = `${two(d.getHours())}:${two(d.getMinutes())}:${two(d.getSeconds())}`;
  return `${day}T${time}${off < 0 ? "-" : "+"}${two(off / 60)}:${two(off % 60)}`;
}

function post(rows) {
  const token = document.cookie.match(/(?:^|; )rehang_csrf=([^;]+)/);
  const headers = { "X-CSRFToken": token ? token[1] : "" };
  const more = { method: "POST", credentials: "same-origin", headers };
  const { form, at, clock } = rows[0];
  if (!form) {
    headers["Content-Type"] = "application/json";
    const entries = rows.map((row) => row.entry);
    return fetch(`/api/jobs/${rows[0].slug}/entries`, { ...more, body: JSON.stringify({ entries }) });
  }
  headers["Rehang-Written"] = at;
  if (clock) headers["Rehang-Clock"] = clock;
  const files = form.fields.some(([, value]) => value instanceof Blob);
  const filled = files ? new FormData() : new URLSearchParams();
  for (const [name, value] of form.fields) filled.append(name, value);
  return fetch(form.url, { ...more, body: filled });
}

// One file with all that was not sent, a line each: entries as a book has them, and forms with
// their photos. It comes in on any other device.
export async function saveCopy() {
  const rows = [...(await unsent()), ...(await refusals())];
  const lines = await Promise.all(rows.map(lineOf));
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([lines.join("\n"), "\n"], { type: "application/x-ndjson" }));
  link.download = `${slug}-out-tray.jsonl`;
  link.click();
  URL.revokeObjectURL(link.href);
}

async function lineOf({ entry, person: by, form, kept, at, clock }) {
  if (!form) return JSON.stringify({ ...entry, by });
  const fields = [];
  for (const [name, value] of form.fields) {
    if (!(value instanceof Blob)) fields.push([name, value]);
    else fields.push([name, { name: value.name, type: value.type, bytes: await inLetters(value) }]);
  }
  return JSON.stringify({ entry, by, form: { ...form, fields }, kept, at, clock });
}

function inLetters(blob) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result.split(",")[1] || "");
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(blob);
  });
}

// Lay what another device saved into this one's out-tray: all of it or nothing. How many came in.
export async function bringIn(text) {
  let rows;
  try {
    rows = text.split("\n").filter(Boolean).map((one) => rowOf(JSON.parse(one)));
  } catch {
    throw new Error("This file is no out-tray. Pick one that SAVE A COPY wrote.");
  }
  const here = new Set((await all("out")).map((row) => row.entry.id));
  const fresh = rows.filter((row) => !here.has(row.entry.id));
  await work("out", "readwrite", (store) => fresh.forEach((row) => store.add(row)));
  await tell(null);
  return fresh.length;
}

function rowOf({ form, entry, by, kept, at, clock, ...bare }) {
  if (!form) {
    const alone = { at, clock, ...bare, kind: bare.kind || "" };
    if (!alone.id || !by || !alone.kind) throw new Error("no entry");
    if (!clock) delete alone.clock;
    return { slug, person: by, entry: alone, kept: Date.now() };
  }
  const fields = form.fields.map(([name, value]) => {
    if (typeof value === "string") return [name, value];
    const bytes = Uint8Array.from(atob(value.bytes), (letter) => letter.charCodeAt(0));
    return [name, new File([bytes], value.name, { type: value.type })];
  });
  return { slug: form.url.split("/")[2], person: by, entry, form: { ...form, fields }, kept, at, clock };
}

// How far the shop's clock is ahead of this device's, ms; asked once in the life of a page.
let offset = null;

export function shopSays(seconds) {
  offset = seconds * 1000 - Date.now();
}

async function clockOf(row) {
  if (offset !== null) return;
  const answer = await fetch(`/jobs/${row.slug}/so-far/`);
  if (!answer.ok || answer.redirected) throw new Error("The shop's clock was not told.");
  shopSays((await answer.json()).now);
}

// Before it goes up for the first time a row is dated by the shop's clock, and stays so: sent
// again it is the same to the letter.
async function dated(row) {
  if (row.at) return row;
  await clockOf(row);
  const off = Math.abs(offset) > WRONG_MS;
  if (!row.form && !off) return row;
  const said = row.form ? now(new Date(row.kept)) : row.entry.at;
  const right = off ? now(new Date(Date.parse(said) + offset)) : said;
  const fresh = { ...row, at: right, clock: off ? said : "" };
  if (!row.form) fresh.entry = { ...row.entry, at: right, clock: said };
  await work("out", "readwrite", (store) => store.put(fresh));
  return fresh;
}

async function sentenceOf(answer) {
  try {
    return (await answer.json()).sentence || "";
  } catch {
    return "";
  }
}

// Send what waits, in order; true when nothing of this person's is left. One sending at a
// time: asked again meanwhile, it goes once more, for what was kept after the first began.
export function flush() {
  if (!sending) {
    sending = sendAll().finally(() => {
      sending = null;
    });
    return sending;
  }
  if (!queued) {
    queued = sending.then(() => {
      queued = null;
      return flush();
    });
  }
  return queued;
}

function askAgain() {
  clearTimeout(again);
  again = setTimeout(flush, AGAIN_MS);
}

// The first of the rows that go in one body: a form alone, or entries of one job.
function partOf(rows) {
  if (rows[0].form) return [rows[0]];
  const other = rows.findIndex((row) => row.form || row.slug !== rows[0].slug);
  if (other > 0) rows = rows.slice(0, other);
  const size = (row) => new Blob([JSON.stringify(row.entry)]).size + 1;
  let bytes = size(rows[0]);
  let n = 1;
  while (n < Math.min(rows.length, AT_ONCE) && bytes + size(rows[n]) < MOST_BYTES) {
    bytes += size(rows[n]);
    n += 1;
  }
  return rows.slice(0, n);
}

async function sendAll() {
  let sent = 0;
  let left = await mine();
  while (left.length) {
    const batch = [];
    try {
      for (const row of partOf(left)) batch.push(await dated(row));
    } catch {
      askAgain();
      break;
    }
    const done = await sendRows(batch);
    sent += done;
    if (done < batch.length) break;
    left = await mine();
  }
  if (sent) await tell({ sent });
  return (await mine()).length === 0;
}

const mine = async () => (await all("out")).filter((row) => row.person === person);

// How many of the rows have left the out-tray, kept or put aside.
async function sendRows(rows) {
  let answer;
  try {
    answer = await post(rows);
  } catch {
    askAgain();
    return 0;
  }
  // Led elsewhere: to the door, for nobody is signed in any more.
  if (answer.redirected) {
    await tell({ held: "Sign in first. What was kept is still on this device." });
    return 0;
  }
  if (answer.ok && rows[0].form) {
    await work("out", "readwrite", (s) => s.delete(rows[0].n));
    keptAt(new Date());
    return 1;
  }
  if (answer.ok) {
    const said = await answer.json();
    const known = new Set([...said.kept.map((one) => one.id), ...said.repeated]);
    const acked = rows.filter((row) => known.has(row.entry.id));
    for (const row of acked) await work("out", "readwrite", (s) => s.delete(row.n));
    if (said.kept.length) keptAt(new Date(said.kept.at(-1).kept));
    return acked.length;
  }
  // 413: more than the book takes in one body. Alone, one line is then put aside like any it refuses.
  if (![422, 409, 413].includes(answer.status)) {
    await tell({ held: await sentenceOf(answer) });
    return 0;
  }
  if (rows.length > 1) {
    let done = 0;
    for (const row of rows) {
      const one = await sendRows([row]);
      done += one;
      if (!one) break;
    }
    return done;
  }
  const sentence = await sentenceOf(answer);
  const { n, ...row } = rows[0];
  // Put aside first and taken out second: it stands twice sooner than not at all.
  await work("refused", "readwrite", (s) => s.add({ ...row, sentence }));
  await work("out", "readwrite", (s) => s.delete(n));
  await tell({ refused: { ...row, sentence } });
  return 1;
}

function keptAt(when) {
  const place = document.querySelector("[data-kept-at]");
  if (place) {
    place.textContent = when.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  }
}

async function tell(news) {
  const rows = await unsent();
  const aside = await refusals();
  for (const place of document.querySelectorAll("[data-outtray]")) {
    place.textContent = String(rows.length + aside.length);
  }
  const old = rows.length && Date.now() - rows[0].kept > A_DAY_MS;
  const strip = document.querySelector("[data-kept]");
  if (strip) strip.classList.toggle("flag", Boolean(old || aside.length));
  body.dataset.waiting = String(rows.length);
  for (const act of listeners) await act(news, rows, aside);
}

export const look = () => tell(null);

if (person) {
  addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") flush();
  });
  tell(null).then(flush);
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist();
}
