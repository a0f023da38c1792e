// The bench's numbers, as rehang.trade.terms.quantities and rehang.trade.facts.readings have them.
// A browser test runs the same cases through both.

// A keyed number in base steps, or null when it is no number yet. `steps` are base steps to the
// keyed unit, `times` what a needle's scale is multiplied by. Below 1 a length is in inches.
export function baseOf(text, meter, isLength) {
  if (!/^(\d+(\.\d*)?|\.\d+)$/.test(text)) return null;
  const [whole, part = ""] = text.split(".");
  const digits = BigInt((whole || "0") + part);
  const inches = isLength && meter.keyed === "thou" && part && Number(text) < 1;
  const steps = BigInt(inches ? 10000 : Math.round(meter.steps));
  const scaled = digits * steps * BigInt(Math.round(meter.times * 1000));
  const divisor = 10n ** BigInt(part.length) * 1000n;
  return scaled % divisor === 0n ? Number(scaled / divisor) : null;
}

// What is written in the book: the number with the unit it was keyed in.
export function writtenOf(text, meter, isLength) {
  const inches = isLength && meter.keyed === "thou" && text.includes(".") && Number(text) < 1;
  const clean = text.replace(/\.$/, "");
  return `${clean.startsWith(".") ? "0" + clean : clean} ${inches ? "in" : meter.keyed}`;
}

function grouped(number, decimals) {
  const [whole, part] = halfEven(number, decimals).split(".");
  const marked = whole.replace(/\B(?=(\d{3})+$)/g, ",");
  return part ? `${marked}.${part}` : marked;
}

function halfEven(number, decimals) {
  const scale = 10 ** decimals;
  const raised = number * scale;
  const floor = Math.floor(raised);
  const over = raised - floor;
  let rounded = Math.abs(over - 0.5) < 1e-9 ? (floor % 2 ? floor + 1 : floor) : Math.round(raised);
  return (rounded / scale).toFixed(decimals);
}

// As on the screen: 18 thou, 1.18 kΩ.
export function show(base, form) {
  let text = grouped(base / form.steps, form.decimals);
  if (form.trim && text.includes(".")) text = text.replace(/\.?0+$/, "");
  return `${text} ${form.unit}`;
}

// As in the record: 0.018 in, 1,180 Ω.
export function record(base, form) {
  const decimals = form.fine && base % 10 ? form.fine : form.decimals;
  return `${grouped(base / form.steps, decimals)} ${form.unit}`;
}

function median(numbers) {
  const sorted = [...numbers].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

// Whether a value looks ten times out, why, and the shifted value that would fit.
export function unlikely(check, value, others) {
  let sentence = "";
  const [low, high] = check.believable || [-Infinity, Infinity];
  const near = others.length >= 3;
  const middle = near ? median(others) : 0;
  if (value < low || value > high) {
    sentence = "It is outside what is usual for any part of this kind.";
  } else if (near && (value > middle * check.factor || value * check.factor < middle)) {
    sentence = `The others are about ${show(middle, check.show)}.`;
  }
  if (!sentence) return null;
  let fits = [];
  for (const factor of [10, 100, 1000]) {
    const moved = value % factor === 0 ? [value / factor] : [];
    for (const one of [...moved, value * factor]) {
      if (one >= low && one <= high) fits.push(one);
    }
  }
  if (near) fits = fits.filter((one) => one <= middle * check.factor && one * check.factor >= middle);
  // With no fellows to go by, the middle of the believable span on a log scale.
  const aim = near ? middle : check.believable ? Math.sqrt(low * high) : value;
  fits.sort((a, b) => Math.abs(Math.log(a / aim)) - Math.abs(Math.log(b / aim)));
  return { sentence, shifted: fits.length ? fits[0] : null };
}

// The digits to key for a value, so that a shifted value is written as if it had been keyed.
export function keyedOf(base, meter) {
  const number = base / (meter.steps * meter.times);
  return String(Number(number.toFixed(6)));
}
