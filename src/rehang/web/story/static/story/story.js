// A tap near a reading on the chart says it in words and rings it. The table says all of it already.
const NEAR_PX = 40;
const RING = 17;
const SVG = "http://www.w3.org/2000/svg";

function nearest(chart, x, y) {
  let best = null;
  let least = NEAR_PX;
  for (const shape of chart.querySelectorAll("[data-key]")) {
    const box = shape.getBoundingClientRect();
    const far = Math.hypot(x - (box.left + box.right) / 2, y - (box.top + box.bottom) / 2);
    if (far < least) {
      best = shape;
      least = far;
    }
  }
  return best;
}

function ring(shape) {
  const old = shape.ownerSVGElement.querySelector(".chart-ring");
  if (old) old.remove();
  const circle = document.createElementNS(SVG, "circle");
  circle.setAttribute("class", "chart-ring");
  circle.setAttribute("r", RING);
  shape.append(circle);
}

for (const figure of document.querySelectorAll("[data-chart]")) {
  const said = figure.querySelector("[data-read]");
  figure.addEventListener("click", (event) => {
    const chart = event.target.closest("svg.chart-drawing");
    const shape = chart && nearest(chart, event.clientX, event.clientY);
    const words = shape && shape.querySelector("title");
    if (!words) return;
    ring(shape);
    said.textContent = words.textContent;
    said.hidden = false;
  });
}
