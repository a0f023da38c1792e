// The out-tray: what was kept on this device and is not in the book yet.
// Each entry is on the disk here before anything else happens, is sent in order, and leaves
// only when the book has answered. What the book refuses is put aside with its sentence.

const body = document.body;
const slug = body.dataset.job;
const person = body.dataset.person;
const address = `/api/jobs/${slug}/entries`;
const A_DAY_MS = 86400000;
// Sent together at most; the book takes 500.
const AT_ONCE = 100;
// Of one body; the book takes 2,621,440 bytes.
const MOST_BYTES = 2000000;
const listeners = new Set();
let sending = null;
let queued = null;

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

async function rowsOf(name) {
  const rows = await work(name, "readonly", (store) => store.getAll());
  return rows.filter((row) => row.slug === slug);
}

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
export function now() {
  const d = new Date();
  const two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  const off = -d.getTimezoneOffset();
  const day = `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`;
  const time = `${two(d.getHours())}:${two(d.getMinutes())}:${two(d.getSeconds())}`;
  return `${day}T${time}${off < 0 ? "-" : "+"}${two(off / 60)}:${two(off % 60)}`;
}

async function post(rows) {
  const token = document.querySelector("input[name=csrfmiddlewaretoken]");
  return fetch(address, {
    method: "POST",
    credentials: "same-origin",
    headers: { "Content-Type": "application/json", "X-CSRFToken": token ? token.value : "" },
    body: JSON.stringify({ entries: rows.map((row) => row.entry) }),
  });
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

// The first of the rows that go in one body; a single row always does.
function partOf(rows) {
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
    const batch = partOf(left);
    const done = await sendRows(batch);
    sent += done;
    if (done < batch.length) break;
    left = await mine();
  }
  if (sent) await tell({ sent });
  return (await mine()).length === 0;
}

const mine = async () => (await unsent()).filter((row) => row.person === person);

// How many of the rows have left the out-tray, kept or put aside.
async function sendRows(rows) {
  let answer;
  try {
    answer = await post(rows);
  } catch {
    return 0;
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
  await tell({ refused: { entry: row.entry, sentence } });
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

if (slug) {
  addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") flush();
  });
  tell(null).then(flush);
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist();
}
