// Ticks on TAKE TO THE BENCH stay on this device until they are taken off, job by job.
const list = document.querySelector("[data-takes]");

if (list) {
  const key = `takes:${list.dataset.takes}`;
  const boxes = [...list.querySelectorAll("[data-take]")];
  const told = document.querySelector("[data-ticked]");

  function kept() {
    try {
      return new Set(JSON.parse(localStorage.getItem(key) || "[]"));
    } catch {
      // A device that keeps nothing still lets one tick; the ticks go with the page.
      return new Set();
    }
  }

  function count() {
    const on = boxes.filter((box) => box.checked).length;
    told.textContent = `${on} of ${boxes.length}`;
  }

  const ticked = kept();
  for (const box of boxes) {
    box.checked = ticked.has(box.dataset.take);
    box.addEventListener("change", () => {
      const now = boxes.filter((one) => one.checked).map((one) => one.dataset.take);
      try {
        localStorage.setItem(key, JSON.stringify(now));
      } catch {
        // Storage is full or shut: the tick stands on the page all the same.
      }
      count();
    });
  }
  count();
}
