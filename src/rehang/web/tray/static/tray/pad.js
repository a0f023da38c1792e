// The pad: keys to entries. Nothing is judged here; the book's answer comes with the cells.
import { baseOf, keyedOf, record, show, unlikely, writtenOf } from "./numbers.js";
import * as out from "../shared/outtray.js";

// A second press of a key this soon after its release is a bounce of a wet or sticky screen.
const BOUNCE_MS = 60;
// NEXT and the words are dead this long after they acted.
const DEAD_MS = 250;
// The longest number a meter of the bench shows, a point and two figures included.
const LONGEST = 9;

const $ = (name, root = document) => root.querySelector(name);
const $$ = (name, root = document) => [...root.querySelectorAll(name)];
const data = JSON.parse($("#pad-data").textContent);
const slug = document.body.dataset.job;
const pad = $("[data-pad]");
const mayWrite = !$(".stop").disabled;
const checkOf = new Map(data.checks.map((one) => [one.name, one]));
const halfKey = `half-${slug}`;
const undoKey = `undo-${slug}`;

let state = JSON.parse($("#tray-state").textContent);
// A page out of this device may have been at another hole and check than its address asks for.
const asked = new URLSearchParams(location.search);
let check = checkOf.get(asked.get("check")) || checkOf.get($("#holes").dataset.check);
let hole = data.walk.includes(asked.get("hole")) ? asked.get("hole") : $('#holes [aria-current="true"]').dataset.hole;
let typed = "";
let others = [];
let face = "";
let asking = null;
let asNumber = false;
let another = false;
let lookSet = "";
let echo = null;
let pending = new Map();
let coming = null;
let writing = null;
let actedAt = -Infinity;
const lastUp = new Map();
let pressed = null;

// What is known

const at = (h = hole) => state.holes[h] || { item: "", checks: {} };
const onFile = (h, c) => at(h).checks[c] || { read: false, value: null, text: "", call: "", entry: "" };
const pend = (h, c) => pending.get(`${h}.${c}`);
const isRead = (h, c) => Boolean(pend(h, c)) || onFile(h, c).read;
const able = (h) => Boolean(at(h).item) && !at(h).ended;
const isLength = (c) => c.record && c.record.unit === "in";

function meterOf(c = check) {
  const chosen = data.chosen[c.name];
  return chosen && c.meters.find((m) => m.id === chosen.meter && m.range === chosen.range);
}

function unreadAfter(h, c) {
  const from = data.walk.indexOf(h);
  const round = [...data.walk.slice(from + 1), ...data.walk.slice(0, from)];
  return round.find((one) => able(one) && !isRead(one, c)) || "";
}

function valueAt(h, c) {
  const waiting = pend(h, c);
  return waiting ? waiting.value : onFile(h, c).value;
}

// Where none is on file the pad asks for it all the same: its list leads to a new one.
const needsMeter = () =>
  check.kind !== "look" && (check.kind === "grade" || !check.choices.length || asNumber) && !inHand();

// The meter in hand, with the pressure set where a grade needs one.
function inHand() {
  const meter = meterOf();
  if (!meter) return null;
  if (check.psi !== null && data.chosen[check.name].psi === null) return null;
  return meter;
}

// How many of the plugs that count are read.
function countOf(c) {
  const readable = data.walk.filter(able);
  return `${readable.filter((h) => isRead(h, c.name)).length} of ${readable.length}`;
}

// Painting

function text(name, words) {
  for (const place of $$(name)) place.textContent = words;
}

function paint() {
  document.body.dataset.at = hole;
  paintHoles();
  paintFace();
  paintReading();
  paintEcho();
  const query = new URLSearchParams({ check: check.name, hole });
  if (data.again) query.set("again", data.again);
  history.replaceState(null, "", `?${query}`);
}

function paintHoles() {
  for (const button of $$(".hole")) {
    const h = button.dataset.hole;
    // Once the test is done its last hole shows what was read, as the others do.
    if (h === hole && asking?.face !== "done") button.setAttribute("aria-current", "true");
    else button.removeAttribute("aria-current");
    const waiting = pend(h, check.name);
    for (const st of $$("[data-for]", button)) st.hidden = st.dataset.for !== check.name || Boolean(waiting);
    button.setAttribute("aria-describedby", `told-${button.dataset.hole}-${check.name}`);
    paintOther(button);
    const mine = $(".unsent", button);
    mine.hidden = !waiting;
    if (waiting) {
      const v = $(".value", mine);
      v.textContent = waiting.short;
      const word = waiting.value === null && waiting.short !== "OL";
      v.classList.toggle("as-word", word);
      v.classList.toggle("long", !word && waiting.short.length > 4);
    }
  }
  for (const [key, waiting] of pending) {
    const [h, c] = key.split(".");
    const cell = $(`[data-cell="${h}"] .rd[data-check="${c}"]`);
    if (cell) {
      cell.classList.add("ghost");
      $(".value", cell).textContent = waiting.short;
    }
  }
  const row = $(`.hole[data-hole="${hole}"]`).closest(".hole-row");
  const tray = $("[data-tray]");
  tray.scrollTop = row.offsetTop - 4;
  paintLead(tray);
}

// Who else is at a hole just now: their initial, and their name for whoever listens.
function paintOther(button) {
  const there = others.filter((one) => one.at === button.dataset.hole);
  let mark = $(".hole-other", button);
  if (!mark && there.length) {
    mark = document.createElement("span");
    mark.className = "hole-other";
    mark.innerHTML = '<b aria-hidden="true"></b><span class="unseen"></span>';
    button.append(mark);
  }
  if (!mark) return;
  mark.hidden = !there.length;
  if (!there.length) return;
  $("b", mark).textContent = there.length > 1 ? there.length : there[0].name[0];
  $(".unseen", mark).textContent = `, ${there.map((one) => one.name).join(" and ")} is here now`;
}

document.addEventListener("others-at", ({ detail }) => {
  const was = others.find((one) => one.at === hole);
  others = detail;
  for (const button of $$(".hole")) paintOther(button);
  const met = others.find((one) => one.at === hole);
  if (met && !was) say(`${met.name} is at ${hole} too.`);
});

// The line that leads from the hole to the reading.
function paintLead(tray) {
  const lead = $("[data-lead]");
  const box = tray.getBoundingClientRect();
  const now = $(`.hole[data-hole="${hole}"]`).getBoundingClientRect();
  if (!box.width) return;
  const foot = box.height - 3;
  const last = now.bottom + 12 > box.bottom;
  const x = last ? now.left - box.left + now.width / 2 : Math.max(now.left - box.left - 3, 4);
  const y = last ? now.bottom - box.top - 1 : now.bottom - box.top - 14;
  lead.setAttribute("d", `M34 ${foot}H${x.toFixed(1)}V${y.toFixed(1)}`);
}

function paintReading() {
  const numbers = face === "number" || face === "unlikely";
  const meter = meterOf();
  text("[data-at-hole]", hole);
  text("[data-at-check]", check.short);
  text("[data-at-count]", countOf(check));
  $("[data-h1]").textContent = `The tray: ${check.label.toLowerCase()} at ${hole}`;
  $("[data-live]").textContent = numbers || typed ? typed : "";
  $(".big-number").classList.toggle("long", typed.length > 3);
  const times = meter && meter.times !== 1 ? ` ${meter.range}` : "";
  // A word needs no unit: the serial stands there, to be matched to the plug in the hand.
  $("[data-unit]").textContent = meter && wantsNumber() ? meter.unit + times : at().name;
  const base = meter && wantsNumber() ? valueOf(typed, meter) : null;
  const same = base === null || !check.record ? "" : record(base, check.record);
  $("[data-same]").textContent = same && same !== `${typed} ${meter.unit}` ? `= ${same}` : "";
  const chosen = data.chosen[check.name];
  let words = "";
  if (chosen && meter) {
    words = `${chosen.meter} ${chosen.range}`.trim();
    if (chosen.psi !== null && check.kind === "grade") words = `${chosen.meter}, ${chosen.psi} psi`;
  }
  const same2 = $("[data-meter]");
  same2.textContent = words || (check.meters.length && !check.choices.length ? "which meter?" : "");
  $(".same").hidden = !check.meters.length || (check.choices.length > 0 && check.kind !== "grade" && !asNumber);
  for (const ruler of $$(".ruler")) ruler.toggleAttribute("hidden", ruler.dataset.for !== check.name);
  const pointer = $(`.ruler[data-for="${check.name}"] [data-pointer]`);
  if (pointer) {
    pointer.toggleAttribute("hidden", base === null);
    if (base !== null && check.scale) {
      const share = (base - check.scale.low) / (check.scale.high - check.scale.low);
      // The scale is inset by 2 % at each end, as rows.scale_of draws it.
      pointer.setAttribute("x", `${(2 + Math.min(Math.max(share, 0), 1) * 96).toFixed(2)}%`);
    }
  }
}

const wantsNumber = () => check.kind === "measure" && (!check.choices.length || asNumber);

function valueOf(keyed, meter) {
  const parts = keyed.split("+").map((part) => baseOf(part, meter, isLength(check)));
  return parts.includes(null) || parts.length > 2 ? null : Math.max(...parts);
}

function faceWanted() {
  if (asking) return asking.face;
  if (!able(hole)) return "no-plug";
  if (needsMeter()) return "no-meter";
  return wantsNumber() ? "number" : check.name;
}

function paintFace() {
  face = faceWanted();
  for (const one of $$(".face", pad)) one.hidden = one.dataset.face !== face;
  pad.dataset.showing = face;
  if (face === "number") paintKeys();
  if (face === "no-meter") fillMeters($("[data-meter-keys]"));
  if (face === "no-plug") {
    const held = at();
    $("[data-noplug]").textContent = held.ended
      ? `${held.name} at ${hole}: ${held.ended}. No reading of it counts.`
      : `Which plug came out of ${hole}?`;
    $("[data-noplug-next]").textContent = held.ended ? "Tap another hole, or open the plug's story." : "";
    paintCameOut(held);
  }
  const after = unreadAfter(hole, check.name);
  text("[data-then]", after ? `then ${after}` : `then ${check.short.toLowerCase()} is done`);
  for (const one of $$('[data-act="another"]')) one.setAttribute("aria-pressed", String(another));
  const here = pend(hole, check.name) || onFile(hole, check.name);
  for (const one of $$("[data-word]")) one.classList.toggle("was", one.dataset.word === here.word);
}

// An empty hole asks for its plug: keyed, or the one that went in last time.
function paintCameOut(held) {
  const form = $("[data-plug-out]");
  if (!form) return;
  form.hidden = Boolean(held.ended);
  const field = $("#plug-out");
  if (field.name !== hole) field.value = "";
  field.name = hole;
  form.elements.next.value = `${data.urls.tray}?${new URLSearchParams({ check: check.name, hole })}`;
  const last = data.last[hole] || "";
  const button = $("[data-as-last]", form);
  button.hidden = !last;
  $("[data-as-last-serial]").textContent = last;
  const number = data.walk.filter((h) => !at(h).item).length;
  $("[data-all-out-said]").textContent = `${number} ${number === 1 ? "hole" : "holes"} to write`;
  $("[data-all-out]").hidden = number < 2;
}

function paintKeys() {
  const meter = meterOf();
  const nums = $('[data-face="number"]');
  const slots = nums.children;
  const two = Boolean(check.twoFigures);
  setKey(slots[9], meter.point ? "." : two ? "+" : "");
  setKey(slots[12], meter.ol ? "OL" : two && meter.point ? "+" : "not-read");
}

const FACES = {
  ".": '<i class="point"></i><span class="unseen">point</span>',
  "+": '<span class="plus">+<small>2nd wire</small></span>',
  OL: "<span>OL<small>over range</small></span>",
  "not-read": "<span>NOT READ</span>",
  "": "",
};

function setKey(button, key) {
  if (button.dataset.key === key) return;
  button.dataset.key = key;
  button.innerHTML = FACES[key];
  button.disabled = key === "";
  button.classList.toggle("blank", key === "");
}

// The echo strip: the last thing kept, or what is on file at the hole that was tapped.

function paintEcho() {
  const strip = $("[data-echo-strip]");
  const mark = $("[data-echo-mark]");
  const what = $("[data-echo-what]");
  const call = $("[data-echo-call]");
  const undo = $('[data-act="undo"]');
  const why = $('[data-act="why"]');
  const back = undoTarget();
  undo.classList.toggle("gone", !back);
  $("[data-undo-what]").textContent = back ? undoWords(back) : "";
  why.hidden = true;
  mark.toggleAttribute("hidden", true);
  strip.classList.toggle("long", Boolean(echo && echo.plain));
  if (!echo) {
    call.textContent = "";
    return;
  }
  if (echo.plain) {
    what.textContent = echo.sentence;
    call.textContent = "";
    return;
  }
  const { hole: h, check: c } = echo;
  const waiting = pend(h, c.name);
  const filed = onFile(h, c.name);
  what.textContent = `${h}  ${waiting ? waiting.text : filed.text || echo.text || ""}`;
  if (waiting) {
    const kept = document.body.dataset.network === "none" ? "KEPT, NOT JUDGED YET" : "KEPT HERE";
    call.textContent = waiting.sent ? "SENT" : kept;
    return;
  }
  call.textContent = filed.call;
  if (filed.call) {
    mark.toggleAttribute("hidden", false);
    const status = filed.call.toLowerCase().replace(" ", "-");
    mark.dataset.shape = status;
    $("use", mark).setAttribute("href", `#m-${status}`);
    why.hidden = false;
    why.href =
      filed.call === "CLOSE CALL" && filed.entry
        ? data.urls.close.replace("ENTRY", filed.entry)
        : data.urls.why.replace("HOLE", h).replace("CHECK", c.name);
  }
}

function say(sentence) {
  echo = { plain: true, sentence };
  paintEcho();
}

// Moving

function go(h, c = check) {
  hole = h;
  check = c;
  typed = "";
  asking = null;
  another = false;
  lookSet = "";
  asNumber = false;
  keepHalf();
}

function onward() {
  const after = unreadAfter(hole, check.name);
  if (after) {
    const wasNumber = asNumber;
    go(after);
    asNumber = wasNumber;
    return;
  }
  const order = data.checks.map((c) => c.name);
  const from = order.indexOf(check.name);
  const round = [...order.slice(from + 1), ...order.slice(0, from)];
  const next = round.find((name) => data.walk.some((h) => able(h) && !isRead(h, name)));
  typed = "";
  asking = { face: "done", next };
  const total = data.walk.filter(able).length;
  $("[data-done-title]").textContent = next
    ? `${check.label}: ${total} of ${total} read`
    : "Every check of the tray is read";
  // Read is not passed: of what no limit judges that is said here, with the way to the limit.
  const unjudged = (next ? [check] : data.checks).filter((c) => data.urls.limits[c.name]);
  const names = unjudged.map((c) => c.label.toLowerCase()).join(", ");
  $("[data-done-why]").textContent = unjudged.length
    ? `NOT JUDGED, for want of a limit${next ? "" : `: ${names}`}.`
    : next ? "Every plug that counts is read." : "Read it back before it is printed.";
  const limit = $("[data-done-limit]");
  limit.hidden = !unjudged.length;
  if (unjudged.length) limit.href = data.urls.limits[unjudged[0].name];
  const button = $('[data-act="next-test"]');
  button.hidden = !next;
  if (next) {
    const left = data.walk.filter((h) => able(h) && !isRead(h, next)).length;
    text("[data-done-next]", `${checkOf.get(next).label}, ${left} to read`);
  }
  $("[data-done-back]").href = data.urls.readBack;
}

function keepHalf() {
  if (typed) localStorage.setItem(halfKey, JSON.stringify({ hole, check: check.name, typed, at: Date.now() }));
  else localStorage.removeItem(halfKey);
}

// Writing

function undoStack() {
  return JSON.parse(sessionStorage.getItem(undoKey) || "[]");
}

function pushUndo(row) {
  sessionStorage.setItem(undoKey, JSON.stringify([...undoStack(), row].slice(-100)));
}

// What UNDO would take back, which its button names: the reading that the strip shows, where this
// set wrote it; else the last that this set wrote.
function undoTarget() {
  const stack = undoStack();
  if (!echo || echo.plain) return stack.at(-1) || null;
  const shown = pend(echo.hole, echo.check.name) || onFile(echo.hole, echo.check.name);
  return stack.find((one) => one.id === shown.entry) || null;
}

const undoWords = ({ hole: h, check: c }) =>
  c === check.name ? h : `${h} ${checkOf.get(c).short.toLowerCase()}`;

function forgetUndo(id) {
  sessionStorage.setItem(undoKey, JSON.stringify(undoStack().filter((one) => one.id !== id)));
}

async function write(kind, fields, shown) {
  const entry = { id: out.newId(), kind, at: out.now(), ...fields };
  const done = (async () => {
    await out.keep(entry);
    pushUndo({ id: entry.id, hole: fields.place, check: fields.check });
    pending.set(`${fields.place}.${fields.check}`, { ...shown, entry: entry.id });
    echo = { hole: fields.place, check, text: shown.text };
  })();
  writing = done;
  try {
    await done;
  } catch (problem) {
    say(`This device could not keep it (${problem.name}). Write it on paper, then make room on the device.`);
    throw problem;
  } finally {
    writing = null;
  }
  return entry;
}

function common() {
  return { item: at().item, place: hole, check: check.name };
}

async function writeReading(written, shown, extra = {}) {
  const chosen = data.chosen[check.name];
  const withMeter = meterOf() && written !== "not taken" && (check.kind === "grade" || !shown.isWord);
  const fields = { ...common(), written, ...extra };
  if (withMeter) {
    fields.meter = chosen.meter;
    if (chosen.range) fields.range = chosen.range;
    if (check.kind === "grade" && chosen.psi !== null) fields.at_psi = chosen.psi;
  }
  if (data.again) fields.hidden_first = true;
  const told = replacedBy(shown);
  const entry = await write("reading", fields, shown);
  typed = "";
  keepHalf();
  if (data.again) await finishAgain(entry);
  else onward();
  if (told && !data.again) echo = { plain: true, sentence: told };
  paint();
  out.flush();
}

// A hole that was read already: what the new reading stands in place of, and the way back to it.
function replacedBy(shown) {
  const before = pend(hole, check.name) || onFile(hole, check.name);
  if (!before.read || !before.text || before.text === shown.text) return "";
  return `${hole}: ${shown.text} replaces ${before.text}. UNDO brings that back.`;
}

async function finishAgain(entry) {
  if (await out.flush()) location.assign(data.urls.close.replace("ENTRY", entry.id));
  else say("Kept here. It is shown beside the first one when it has been sent.");
}

async function next() {
  if (face !== "number") return;
  const meter = meterOf();
  if (!typed) {
    say(`Key ${hole}, or tap another hole.`);
    return;
  }
  const base = valueOf(typed, meter);
  if (base === null) {
    say(`${typed} is not a number that ${meter.id} shows. Erase it and key it again.`);
    return;
  }
  if (meter.top !== null && base > meter.top) {
    say(`${show(base, check.show)} is beyond the top of ${meter.id} ${meter.range}. Key OL, or change the meter.`);
    return;
  }
  const others = data.walk
    .filter((h) => h !== hole && able(h))
    .map((h) => valueAt(h, check.name))
    .filter((v) => v !== null && v !== undefined);
  const doubt = unlikely(check, base, others);
  if (doubt) {
    ask(doubt, base, meter);
    return;
  }
  await keepNumber(typed, base, {});
}

function keepNumber(keyed, base, extra) {
  const meter = meterOf();
  const parts = keyed.split("+");
  const unit = parts.length > 1 ? ` ${meter.keyed}` : "";
  const written = unit ? parts.join("+") + unit : writtenOf(keyed, meter, isLength(check));
  const words = show(base, check.show);
  const k = extra.kept_as_keyed ? " k" : "";
  return writeReading(written, { text: words + k, short: words.split(" ")[0] + k, value: base, read: true }, extra);
}

function ask(doubt, base, meter) {
  asking = { face: "unlikely", base, shifted: doubt.shifted };
  const words = show(base, check.show);
  $("[data-ask-title]").textContent = `${words} is unlikely`;
  $("[data-ask-why]").textContent = doubt.sentence;
  $("[data-ask-keep]").textContent = `${words}, marked k`;
  const button = $('[data-act="shift"]');
  button.hidden = doubt.shifted === null;
  if (doubt.shifted !== null) {
    $("[data-ask-shift]").textContent = `${show(doubt.shifted, check.show)}?`;
    asking.keyed = keyedOf(doubt.shifted, meter);
  }
  paint();
}

async function look(name) {
  const word = check.words.find((one) => one.name === name);
  if (word.severities.length > 1 || word.severities[0] === 3) {
    asking = { face: "severity", word };
    $("[data-sev-title]").textContent = `${hole}: ${word.label}`;
    const alone = word.severities.length === 1;
    $("[data-sev-why]").textContent = alone ? "This word rejects the plug." : "How bad is it?";
    const keys = $("[data-sev-keys]");
    keys.replaceChildren(
      ...word.severities.map((level) => {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "key word";
        button.dataset.severity = level;
        button.textContent = SEVERITY[level];
        return button;
      }),
    );
    paint();
    return;
  }
  await writeLook(word, null);
}

const SEVERITY = { 3: "3, REJECT", 2: "2, KEEPS IT OPEN", 1: "1, NOTED", 0: "0, NORMAL" };

async function writeLook(word, severity) {
  const fields = { ...common(), word: word.name };
  if (severity !== null) fields.severity = severity;
  if (another || lookSet) {
    lookSet = lookSet || out.newId();
    fields.set = lookSet;
  }
  await write("seen", fields, { text: word.label, short: word.label, value: null, read: true });
  asking = null;
  if (another) another = false;
  else onward();
  paint();
  out.flush();
}

async function undo() {
  const last = undoTarget();
  if (!last) return;
  const c = checkOf.get(last.check);
  writing = out.keep({ id: out.newId(), kind: "struck", at: out.now(), entry: last.id, reason: "undone at the pad" });
  await writing;
  writing = null;
  forgetUndo(last.id);
  const key = `${last.hole}.${last.check}`;
  if (pending.has(key) && pending.get(key).entry === last.id) pending.delete(key);
  go(last.hole, c);
  say(`Taken back at ${last.hole}. The book keeps it, struck.`);
  paint();
  out.flush();
}

async function stop() {
  const fields = { where: "tray", place: hole, check: check.name };
  if (typed) fields.half_keyed = typed;
  await out.keep({ id: out.newId(), kind: "stopped", at: out.now(), ...fields });
  localStorage.removeItem(halfKey);
  out.flush();
  $("#stop").showModal();
}

async function stopWhy(why) {
  const fields = { where: "tray", place: hole, check: check.name, why };
  if (typed) fields.half_keyed = typed;
  await out.keep({ id: out.newId(), kind: "stopped", at: out.now(), ...fields });
  if (await out.flush()) location.assign(data.urls.board);
  else {
    $("#stop").close();
    say(`Stopped at ${hole}, ${why}. Kept here; it is sent when the board can be reached.`);
  }
}

// Meters

function fillMeters(list) {
  const buttons = [];
  for (const meter of check.meters) {
    const pressures = check.psi === null ? [null] : [check.psi, check.psi - 20, check.psi + 20];
    for (const psi of pressures) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button tall";
      Object.assign(button.dataset, { meter: meter.id, range: meter.range, psi: psi === null ? "" : psi });
      const name = document.createElement("span");
      name.textContent = psi === null ? `${meter.id} ${meter.range}`.trim() : `${meter.id} at ${psi} psi`;
      const small = document.createElement("small");
      small.textContent = psi === null ? `${meter.worth || meter.name}, ${meter.due}` : `${meter.name}, ${meter.due}`;
      button.append(name, small);
      buttons.push(button);
    }
  }
  const link = document.createElement("a");
  link.className = "button tall";
  link.href = data.urls.newMeter.replaceAll("CHECK", check.name).replaceAll("HOLE", hole);
  link.textContent = "NEW METER";
  list.replaceChildren(...buttons, link);
}

function chooseMeter({ meter, range, psi }) {
  data.chosen[check.name] = { meter, range, psi: psi === "" ? null : Number(psi) };
  saveMeters();
  typed = "";
  keepHalf();
  for (const one of $$("dialog[open]")) one.close();
  paint();
}

function saveMeters() {
  const value = Object.entries(data.chosen)
    .map(([name, c]) => `${name}:${c.meter}:${c.range}:${c.psi === null ? "" : c.psi}`)
    .join(";");
  document.cookie = `meters-${slug}=${encodeURIComponent(value)}; path=/; max-age=31536000; samesite=lax`;
}

// Keys

function digit(key) {
  if (face !== "number" || !mayWrite) return;
  if (key === "erase") typed = typed.slice(0, -1);
  else if (typed.length >= LONGEST) return;
  else if (key === "." && !meterOf().point) return;
  else if (key === "." && typed.split("+").at(-1).includes(".")) {
    say("A number has one point. Take digits back with the arrow, or key it again.");
    return;
  }
  else if (key === "+" && (!typed || typed.includes("+") || !check.twoFigures)) return;
  else typed += key;
  keepHalf();
  paintReading();
}

const DIGITS = new Set([..."0123456789.+", "erase"]);

// Actions run one after another; a digit that comes while the disk is busy waits for it.
async function act(run, guarded = false) {
  if (guarded) {
    if (performance.now() - actedAt < DEAD_MS || writing) return;
    actedAt = performance.now();
  }
  if (!mayWrite && guarded) {
    say("You read this book and do not write in it.");
    return;
  }
  await run();
}

function press(key) {
  if (DIGITS.has(key)) {
    if (writing) writing.then(() => setTimeout(() => digit(key)));
    else digit(key);
  } else if (key === "next") act(next, true);
  else if (key === "OL") act(() => noNumber("ol"), true);
  else if (key === "not-read") act(() => noNumber("not taken"), true);
}

const STATE_WORDS = { ol: "OL", short: "short", unstable: "unstable", "not taken": "not read" };

async function noNumber(written) {
  if (!able(hole)) return;
  await writeReading(written, { text: STATE_WORDS[written], short: STATE_WORDS[written], value: null, read: true });
}

pad.addEventListener("pointerdown", (event) => {
  const button = event.target.closest("[data-key]");
  if (!button || event.button > 0) return;
  const key = button.dataset.key;
  if (event.timeStamp - (lastUp.get(key) ?? -Infinity) < BOUNCE_MS) {
    pressed = key;
    return;
  }
  if (!DIGITS.has(key)) return;
  pressed = key;
  press(key);
});

addEventListener("pointerup", (event) => {
  const button = event.target instanceof Element && event.target.closest("[data-key]");
  if (button) lastUp.set(button.dataset.key, event.timeStamp);
});

pad.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button || button.disabled) return;
  const set = button.dataset;
  if (set.key) {
    // A digit acted on touch-down already; one that came from a keyboard did not.
    if (DIGITS.has(set.key) && pressed === set.key && event.detail !== 0) {
      pressed = null;
      return;
    }
    pressed = null;
    press(set.key);
  } else if (set.word) {
    const short = set.word.replace(/ left$/, "");
    const shown = { text: set.word, short, value: null, isWord: true, read: true, word: set.word };
    act(() => writeReading(set.word, shown), true);
  } else if (set.look) act(() => look(set.look), true);
  else if (set.severity) act(() => writeLook(asking.word, Number(set.severity)), true);
  else if (set.meter !== undefined) chooseMeter(set);
  else if (set.act) padAct(set.act);
});

function keepAsKeyed() {
  const { base } = asking;
  asking = null;
  return keepNumber(typed, base, { kept_as_keyed: true });
}

function keepShifted() {
  const { keyed, shifted } = asking;
  asking = null;
  return keepNumber(keyed, shifted, {});
}

function goToNextTest() {
  const next = checkOf.get(asking.next);
  go(data.walk.find((h) => able(h) && !isRead(h, next.name)), next);
  echo = null;
  $("[data-echo-what]").textContent = "";
}

function padAct(name) {
  if (name === "not-read") act(() => noNumber("not taken"), true);
  else if (name === "number") asNumber = true;
  else if (name === "another") another = !another;
  else if (name === "more") asking = { face: `${check.name}-more` };
  else if (name === "less" || name === "back") asking = null;
  else if (name === "keep") act(keepAsKeyed, true);
  else if (name === "reread") { asking = null; typed = ""; keepHalf(); }
  else if (name === "shift") act(keepShifted, true);
  else if (name === "next-test") act(goToNextTest, true);
  paint();
}

pad.addEventListener("keydown", (event) => {
  // A serial is keyed into its own field.
  if (event.target.closest("input")) return;
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const key = { Backspace: "erase", ",": "." }[event.key] || event.key;
  if (DIGITS.has(key)) {
    event.preventDefault();
    press(key);
  } else if (event.key === "Enter" && face === "number" && (!event.target.closest("button") || typed)) {
    event.preventDefault();
    if (!event.repeat) press("next");
  }
});

document.addEventListener("click", (event) => {
  const tapped = event.target.closest(".hole");
  if (tapped) {
    go(tapped.dataset.hole);
    const here = pend(hole, check.name) || onFile(hole, check.name);
    echo = here.read ? { hole, check, text: here.text } : null;
    if (!echo) $("[data-echo-what]").textContent = "";
    paint();
    return;
  }
  const button = event.target.closest("[data-act], [data-test], [data-state], [data-why], dialog [data-meter]");
  if (!button || pad.contains(button)) return;
  const { act: name, test, state: no, why } = button.dataset;
  if (button.closest("#meters") && button.dataset.meter) chooseMeter(button.dataset);
  else if (test) {
    const c = checkOf.get(test);
    const first = data.walk.find((h) => able(h) && !isRead(h, test));
    go(first || hole, c);
    $("#tests").close();
    paint();
  } else if (no) {
    $("#tests").close();
    act(() => noNumber(no), true);
  } else if (why) stopWhy(why);
  else if (name === "tests") $("#tests").showModal();
  else if (name === "meter") {
    fillMeters($("[data-meter-list]"));
    $("#meters").showModal();
  } else if (name === "undo") act(undo, true);
  else if (name === "hand") setHand(document.documentElement.dataset.hand === "left" ? "right" : "left");
  else if (name === "pad-or-why") setPad(!document.body.classList.contains("wants-pad"));
  else if (name === "outbox") showOutbox();
  else if (name === "send") out.flush();
  else if (name === "save-copy") out.saveCopy();
  else if (name === "take-out") out.takeOutRefused(Number(button.dataset.n));
});

for (const button of $$("[data-as-last]", pad)) {
  button.addEventListener("click", () => { $("#plug-out").value = data.last[hole]; });
}

$("[data-stop]").addEventListener("submit", (event) => {
  event.preventDefault();
  act(stop, true);
});

$("[data-meter-form]").addEventListener("submit", (event) => event.preventDefault());

// The out-tray

out.onChange(async (news, rows, aside) => {
  const before = pending;
  pending = new Map();
  const struck = new Set(rows.filter((r) => r.entry.kind === "struck").map((r) => r.entry.entry));
  const refused = news && news.refused ? news.refused.entry.id : "";
  if (refused) forgetUndo(refused);
  // What the book has taken stays shown until the tray that knows of it has come.
  for (const [key, one] of before) {
    if (one.entry !== refused && !struck.has(one.entry) && !pending.has(key)) {
      pending.set(key, { ...one, sent: true });
    }
  }
  for (const { entry } of rows) {
    if (!entry.place || struck.has(entry.id) || !["reading", "seen"].includes(entry.kind)) continue;
    const key = `${entry.place}.${entry.check}`;
    const known = before.get(key);
    pending.set(key, known && known.entry === entry.id ? known : shownFrom(entry));
  }
  if (news && news.refused) {
    const { entry, sentence } = news.refused;
    say(`${entry.place ? `${entry.place}: ` : ""}${sentence}`);
  } else if (news && news.held) say(news.held);
  paintHoles();
  // Not waited for: what was keyed meanwhile is sent while a slow answer is under way.
  if (news && (news.sent || news.refused)) refresh();
  if ($("#outbox").open) fillOutbox(rows, aside);
});

function shownFrom(entry) {
  const c = checkOf.get(entry.check);
  const words = entry.word ? entry.word.replace(/_/g, " ") : entry.written;
  const said = STATE_WORDS[words] || words;
  const meter = c && c.meters.find((m) => m.id === entry.meter && m.range === (entry.range || ""));
  const keyed = entry.written ? entry.written.replace(/ .*$/, "") : "";
  const value = meter && c.show ? baseOf(keyed, meter, isLength(c)) : null;
  if (value === null) {
    const short = said.replace(/ left$/, "");
    return { text: said, short, value: null, read: true, entry: entry.id, word: said };
  }
  return { text: show(value, c.show), short: show(value, c.show).split(" ")[0], value, read: true, entry: entry.id };
}

// Fetch what the book now says and swap it in; only the newest answer counts, and an older one
// still under way is let go, so that slow answers do not take the lines that readings go out on.
async function refresh() {
  if (coming) coming.abort();
  const mine = new AbortController();
  coming = mine;
  document.body.dataset.fetching = "1";
  const landing = new Set([...pending.values()].filter((one) => one.sent).map((one) => one.entry));
  const query = new URLSearchParams({ check: check.name, hole });
  if (data.again) query.set("again", data.again);
  let html = "";
  try {
    const answer = await fetch(`${data.urls.cells}?${query}`, { credentials: "same-origin", signal: mine.signal });
    if (answer.ok && !answer.redirected) html = await answer.text();
  } catch {
    // No network just now, or a newer answer is asked for: what is kept here stays shown as kept.
  }
  if (coming !== mine) return;
  coming = null;
  if (html) swapIn(html, landing);
  document.body.dataset.fetching = "0";
}

function swapIn(html, landing) {
  const fresh = new DOMParser().parseFromString(html, "text/html");
  const focused = document.activeElement && document.activeElement.dataset.hole;
  for (const id of ["holes", "cells", "tray-state"]) {
    const part = fresh.getElementById(id);
    document.getElementById(id).replaceWith(document.importNode(part, true));
  }
  if (window.htmx) window.htmx.process(document.getElementById("cells"));
  state = JSON.parse($("#tray-state").textContent);
  for (const [key, one] of pending) if (landing.has(one.entry)) pending.delete(key);
  for (const c of data.checks) text(`[data-test-count="${c.name}"]`, countOf(c));
  paintHoles();
  paintEcho();
  paintFace();
  tellOfOthers();
  if (focused) $(`.hole[data-hole="${focused}"]`).focus({ preventScroll: true });
}

// Two who read one thing are both told: both stay in the book, and its rule says which counts.
const toldOf = new Set();
function tellOfOthers() {
  const mine = undoStack();
  const ids = new Set(mine.map((one) => one.id));
  for (const { id, hole: h, check: c } of mine) {
    const filed = onFile(h, c);
    if (!filed.read || !filed.entry || ids.has(filed.entry) || pend(h, c) || toldOf.has(id)) continue;
    toldOf.add(id);
    say(`Another read ${h} too: ${filed.text}. Both stay in the book, and that one counts.`);
  }
}

function showOutbox() {
  $("#outbox").showModal();
  out.look();
}

function fillOutbox(rows, aside) {
  const list = $("[data-out-list]");
  // A needle's number is what its range makes of it, here too.
  const told = (entry) => (entry.kind === "reading" ? shownFrom(entry).text : entry.word || entry.kind);
  const words = ({ entry }) => `${entry.place || ""} ${told(entry)}`.trim();
  $("[data-out-said]").textContent = rows.length
    ? `${rows.length} kept on this device and not in the book yet.`
    : aside.length
      ? "The book did not take these. Read the sentence, then take each out."
      : "Everything is in the book.";
  list.replaceChildren(
    ...rows.map((row) => line(words(row), row.person)),
    ...aside.map((row) => {
      const item = line(words(row), row.sentence);
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button";
      button.textContent = "TAKE OUT";
      Object.assign(button.dataset, { act: "take-out", n: row.n });
      item.append(button);
      return item;
    }),
  );
}

function line(title, small) {
  const item = document.createElement("li");
  const b = document.createElement("b");
  b.textContent = title;
  const span = document.createElement("span");
  span.className = "small";
  span.textContent = small;
  item.append(b, span);
  return item;
}

// The device's wishes

function setHand(hand) {
  document.documentElement.dataset.hand = hand;
  localStorage.setItem("hand", hand);
  $('[data-act="hand"]').textContent = hand === "left" ? "RIGHT HAND" : "LEFT HAND";
}

function setPad(wanted) {
  document.body.classList.toggle("wants-pad", wanted);
  $('[data-act="pad-or-why"]').textContent = wanted ? "WHY" : "PAD";
  localStorage.setItem("pad", wanted ? "pad" : "why");
  if (wanted) pad.focus({ preventScroll: true });
}

// Whether a half-keyed number was kept after all, just before the page went.
async function wasKept(half) {
  const rows = await out.unsent();
  return rows.some(
    ({ entry, kept }) => entry.place === half.hole && entry.check === half.check && kept >= half.at,
  );
}

async function begin() {
  setHand(localStorage.getItem("hand") || "right");
  const wished = localStorage.getItem("pad");
  const coarse = matchMedia("(pointer: coarse)").matches;
  document.body.classList.toggle("wants-pad", wished ? wished === "pad" : coarse);
  $('[data-act="pad-or-why"]').textContent = document.body.classList.contains("wants-pad") ? "WHY" : "PAD";
  saveMeters();
  const half = JSON.parse(localStorage.getItem(halfKey) || "null");
  localStorage.removeItem(halfKey);
  if (half && !(await wasKept(half))) {
    // A number that was half keyed when the page went is dropped, and said so.
    say(`You had keyed ${half.typed}_ at ${half.hole}. Read it again.`);
  } else if ($("[data-echo-what]").textContent) say($("[data-echo-what]").textContent);
  if (!echo && !data.again && onFile(hole, check.name).read) echo = { hole, check };
  // What was kept on this device and not sent is shown before the first key is taken.
  await out.look();
  face = faceWanted();
  paint();
  const padIsShown = !$("#line").checkVisibility() || document.body.classList.contains("wants-pad");
  (padIsShown ? pad : $("#line")).focus({ preventScroll: true });
  document.body.dataset.ready = "yes";
}

// Another has written: the holes are drawn again, and what is half keyed here stays as it is.
document.addEventListener("book-moved", (event) => {
  event.preventDefault();
  if (!pending.size && !data.again) refresh();
});
addEventListener("resize", () => paintLead($("[data-tray]")));
begin();
