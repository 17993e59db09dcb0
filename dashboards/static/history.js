// The reading mark of History: by finger, mouse or the range input under the drawing; two fingers or
// a drag with the mouse pick a shorter span. Without it the page is whole: the mark stands at the end.

const place = document.querySelector("[data-history]");
const slider = place?.querySelector("[data-mark]");
const words = place?.querySelector("[data-readout]");
const PULLED = 12; // pixels; less is a touch, not a pull
let figures = null;
let asking = null;

function sheet() {
  return [...place.querySelectorAll("svg.history")].find((svg) => svg.getClientRects().length);
}

async function load() {
  asking ??= fetch(place.dataset.figures, { credentials: "same-origin" }).then((a) => a.json());
  try {
    figures = await asking;
  } catch {
    asking = null; // asked again when the mark moves
  }
}

async function show(n) {
  if (!figures) await load();
  if (!figures) return;
  for (const svg of place.querySelectorAll("svg.history")) {
    const at = figures[svg.classList.contains("phone") ? "phone" : "wide"][n];
    svg.querySelector("[data-reading]").setAttribute("transform", `translate(${at} 0)`);
  }
  words.replaceChildren(
    ...figures.lines[n].map((line) => {
      const row = document.createElement("span");
      row.textContent = line;
      return row;
    }),
  );
  slider.setAttribute("aria-valuetext", figures.lines[n].join(", "));
}

function nearest(x, svg) {
  const places = figures[svg.classList.contains("phone") ? "phone" : "wide"];
  let best = 0;
  places.forEach((p, n) => {
    if (Math.abs(p - x) < Math.abs(places[best] - x)) best = n;
  });
  return best;
}

function across(event, svg) {
  const box = svg.getBoundingClientRect();
  return ((event.clientX - box.left) * svg.viewBox.baseVal.width) / box.width;
}

async function point(event) {
  const svg = event.target.closest("svg.history");
  if (!svg) return;
  if (!figures) await load();
  if (!figures) return;
  slider.value = String(nearest(across(event, svg), svg));
  show(Number(slider.value));
}

function stamp(ms) {
  const first = place.querySelector("[name=from]");
  const offset = Date.parse(`${first.value}Z`) - figures.from; // the site's clock, not this device's
  return new Date(ms + offset).toISOString().slice(0, 16);
}

function pick(a, b) {
  const svg = sheet();
  const plot = Number(svg.dataset.plot);
  const length = figures.to - figures.from;
  const [left, right] = [Math.min(a, b), Math.max(a, b)].map(
    (x) => figures.from + (length * Math.min(Math.max(x, 0), plot)) / plot,
  );
  const form = place.querySelector("form");
  const stamps = [stamp(left), stamp(right)]; // both before the form's own dates change
  [form.elements.from.value, form.elements.to.value] = stamps;
  form.submit();
}

if (place) {
  place.querySelector("[data-mark-row]").hidden = false;
  slider.addEventListener("input", () => show(Number(slider.value)));
  slider.addEventListener("keydown", (event) => {
    const move = { "+": "closer", "-": "wider", PageUp: "earlier", PageDown: "later" }[event.key];
    const link = move && place.querySelector(`[data-move=${move}]`);
    if (link) {
      event.preventDefault();
      link.click();
    }
  });
  const down = new Map();
  place.addEventListener("pointerdown", (event) => {
    const svg = event.target.closest("svg.history");
    if (!svg) return;
    down.set(event.pointerId, across(event, svg));
    point(event);
  });
  place.addEventListener("pointermove", (event) => {
    if (event.pointerType === "mouse" || down.size === 1) point(event);
  });
  const up = (event) => {
    const svg = sheet();
    if (!down.has(event.pointerId) || !svg) return;
    const start = down.get(event.pointerId);
    const others = [...down].filter(([id]) => id !== event.pointerId);
    down.delete(event.pointerId);
    const end = across(event, svg);
    if (!figures || event.type === "pointercancel") return;
    if (others.length) {
      pick(end, others[0][1]);
    } else if (event.pointerType === "mouse" && Math.abs(end - start) > PULLED) {
      pick(start, end);
    }
  };
  window.addEventListener("pointerup", up);
  window.addEventListener("pointercancel", up);
}
