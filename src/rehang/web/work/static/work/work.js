// Ticks on TAKE TO THE BENCH stay on this device for the day, job by job; NEW goes once a card was
// opened here.
function kept(key) {
  try {
    return new Set(JSON.parse(localStorage.getItem(key) || "[]"));
  } catch {
    // A device that keeps nothing still lets one tick; the ticks go with the page.
    return new Set();
  }
}

function keep(key, values) {
  try {
    localStorage.setItem(key, JSON.stringify([...values]));
  } catch {
    // Storage is full or shut: the tick stands on the page all the same.
  }
}

const list = document.querySelector("[data-takes]");

if (list) {
  const key = `takes:${list.dataset.takes}`;
  const boxes = [...list.querySelectorAll("[data-take]")];
  const told = document.querySelector("[data-ticked]");
  const ticked = kept(key);

  function count() {
    const on = boxes.filter((box) => box.checked).length;
    told.textContent = `${on} of ${boxes.length}`;
  }

  for (const box of boxes) {
    box.checked = ticked.has(box.dataset.take);
    box.addEventListener("change", () => {
      if (box.checked) ticked.add(box.dataset.take);
      else ticked.delete(box.dataset.take);
      keep(key, ticked);
      count();
    });
  }
  count();
}

const NEW = "cards-opened";
const opened = kept(NEW);
for (const card of document.querySelectorAll("[data-new]")) {
  if (opened.has(card.dataset.new)) card.querySelector(".chip.new")?.remove();
  card.addEventListener("click", () => {
    opened.add(card.dataset.new);
    keep(NEW, opened);
  });
}
