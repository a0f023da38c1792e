// Plugs out, field by field: Enter goes to the next hole, and how serials begin is keyed once. The
// page works without it; what is typed is checked where it is written in the book.
const form = document.querySelector("[data-out]");
const fields = form ? [...form.querySelectorAll(".out-field input")] : [];
const hole = form && form.querySelector("[data-hole]");
// Serials of one box differ in their last two characters.
const TAIL = 2;
// A beginning shorter than this saves no key.
const LEAST = 2;

let given = "";

const typed = (but) => fields.filter((one) => one !== but && one.value).map((one) => one.value);

function shared(a, b) {
  let length = 0;
  while (length < a.length && a[length] === b[length]) length += 1;
  return a.slice(0, length);
}

// How the next serial begins: as the last two do, or the last one where there is no other.
function beginning(field) {
  const done = typed(field);
  const last = done.at(-1) || "";
  const before = done.at(-2);
  const same = before ? shared(before, last) : last;
  const found = same.slice(0, Math.max(last.length - TAIL, 0));
  return found.length < LEAST ? "" : found;
}

function offer(field) {
  if (hole) hole.value = field.name;
  given = field.value ? "" : beginning(field);
  if (!given) return;
  // Where the others end in figures, a phone shows its figures.
  field.inputMode = typed(field).every((one) => /\d$/.test(one)) ? "numeric" : "text";
  field.value = given;
  field.setSelectionRange(given.length, given.length);
}

// A whole serial keyed or scanned behind its beginning: the beginning counts once.
function takeOnce(field) {
  const twice = (given + given).toLowerCase();
  if (given && field.value.toLowerCase().startsWith(twice)) field.value = given + field.value.slice(twice.length);
}

// A beginning with nothing behind it is no serial.
function leave(field) {
  if (given && field.value === given) field.value = "";
  given = "";
}

function next(field) {
  const rest = fields.slice(fields.indexOf(field) + 1);
  const empty = rest.find((one) => !one.value);
  (empty || form.querySelector("[data-keep]")).focus();
}

for (const field of fields) {
  field.addEventListener("focus", () => offer(field));
  field.addEventListener("blur", () => leave(field));
  field.addEventListener("input", () => {
    takeOnce(field);
    // The beginning was rubbed out: letters are wanted again.
    if (!field.value.startsWith(given)) {
      given = "";
      field.inputMode = "text";
    }
  });
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault();
    next(field);
  });
}

// What is typed and not written does not stay behind without a word; a second tap goes on.
const read = document.querySelector("[data-read]");
const unwritten = document.querySelector("[data-unwritten]");
if (read) {
  read.addEventListener("click", (event) => {
    const left = fields.filter((one) => one.value).map((one) => `${one.name} ${one.value}`);
    if (!left.length || !unwritten.hidden) return;
    event.preventDefault();
    unwritten.textContent = `Not written yet: ${left.join(", ")}. Press THESE CAME OUT first.`;
    unwritten.hidden = false;
  });
}

for (const button of document.querySelectorAll("[data-as-last]")) {
  button.hidden = false;
  button.addEventListener("click", () => {
    const field = document.getElementById(button.dataset.asLast);
    given = "";
    field.value = button.firstChild.textContent.trim();
  });
}

// A keyboard is at hand on a laptop; on a phone it would cover last time's list.
const wrong = form && form.querySelector(".out-wrong input");
if (wrong) wrong.focus();
else if (fields.length && !matchMedia("(pointer: coarse)").matches) {
  (fields.find((one) => !one.value) || fields[0]).focus();
}
