"use strict";
// The pages work without this: it ties charts and tables, takes ranges, narrows long lists, spares a click.
const each = (where, what, work) => where.querySelectorAll(what).forEach(work);

function light(row, on) {
  each(document, `[data-row="${CSS.escape(row)}"]`, (part) => part.classList.toggle("lit", on));
}

function tie(part) {
  const row = part.dataset.row;
  for (const [event, on] of [["mouseenter", true], ["mouseleave", false], ["focusin", true], ["focusout", false]]) {
    part.addEventListener(event, () => light(row, on));
  }
}

function lead(mark) {
  mark.addEventListener("click", () => {
    const row = document.querySelector(`tr[data-row="${CSS.escape(mark.dataset.row)}"]`);
    const link = row && row.querySelector("a");
    if (!link) return;
    row.scrollIntoView({ block: "center" });
    link.focus();
  });
}

function narrow(field) {
  field.addEventListener("input", () => {
    const words = field.value.trim().toLowerCase();
    each(field.closest("fieldset"), ".choices label", (label) => {
      label.hidden = !label.textContent.toLowerCase().includes(words) && !label.querySelector("input").checked;
    });
  });
  field.addEventListener("keydown", (event) => {
    if (event.key === "Enter") event.preventDefault();
  });
}

// Dragging over a strip fills in the ends of a range and sends the form; the address keeps them.
function brush(strip) {
  const svg = strip.querySelector("svg"), kind = strip.dataset.brush;
  const taken = document.createElementNS(svg.namespaceURI, "rect");
  for (const [name, value] of [["class", "taken"], ["y", 0], ["height", 46]]) taken.setAttribute(name, value);
  let begun = null;
  const at = (event) => {
    const x = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse()).x;
    return Math.min(Math.max(x / 320, 0), 1);
  };
  const said = (share, up) => {
    if (kind === "number") {
      const value = strip.dataset.end * share * share;
      return String(Number(value.toPrecision(3)));
    }
    const [start, end] = [Date.parse(strip.dataset.start), Date.parse(strip.dataset.end)];
    const day = (start + (end - start) * share) / 864e5;
    return new Date((up ? Math.ceil(day) : Math.floor(day)) * 864e5).toISOString().slice(0, 10);
  };
  svg.addEventListener("pointerdown", (event) => {
    begun = at(event);
    svg.setPointerCapture(event.pointerId);
    each(svg, ".taken", (part) => part.remove());
    svg.append(taken);
    taken.setAttribute("width", 0);
    event.preventDefault();
  });
  svg.addEventListener("pointermove", (event) => {
    if (begun === null) return;
    const now = at(event);
    taken.setAttribute("x", 320 * Math.min(begun, now));
    taken.setAttribute("width", 320 * Math.abs(begun - now));
  });
  svg.addEventListener("pointercancel", () => { begun = null; taken.remove(); });
  svg.addEventListener("pointerup", (event) => {
    if (begun === null) return;
    const ends = [begun, at(event)].sort((a, b) => a - b);
    begun = null;
    if (ends[1] - ends[0] < 0.01) { taken.remove(); return; }
    const fields = strip.closest("form").elements;
    fields[strip.dataset.low].value = ends[0] === 0 ? "" : said(ends[0], false);
    fields[strip.dataset.high].value = ends[1] === 1 ? "" : said(ends[1], true);
    strip.closest("form").requestSubmit();
  });
}

const wide = window.matchMedia("(min-width: 60rem)");
function unfold() {
  each(document, "[data-wide-open]", (part) => { part.open = wide.matches; });
}

// Marking a row draws the marked rows: what the form would lead to takes the place of what is shown.
let marking = 0;
async function draw(form, name) {
  const address = `${form.getAttribute("action")}?${new URLSearchParams(new FormData(form))}`;
  const mine = ++marking;
  const answer = await fetch(address).catch(() => null);
  if (mine !== marking) return;
  if (!answer || !answer.ok) { location.assign(address); return; }
  const found = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector(".found");
  if (mine !== marking) return;
  const box = () => document.querySelector(`tr [name=mark][value="${CSS.escape(name)}"]`);
  const place = box() ? box().getBoundingClientRect().top : 0;
  document.querySelector(".found").replaceWith(found);
  history.replaceState(null, "", address);
  enliven(found);
  document.getElementById("told").textContent = found.querySelector("[data-tells]").textContent;
  if (!box()) return;
  window.scrollBy({ top: box().getBoundingClientRect().top - place, behavior: "instant" });
  box().focus({ preventScroll: true });
}

// A choice made by mouse or closed list goes at once; by arrow keys it waits for Enter on the button.
function enliven(part) {
  each(part, "[data-row]", tie);
  each(part, "figure [data-row]", lead);
  each(part, "[data-finds]", narrow);
  each(part, "[data-brush]", brush);
  each(part, "[data-submits]", (list) => list.addEventListener("change", () => {
    if (!list.matches(":focus-visible")) list.form.requestSubmit();
  }));
  each(part, "tr [name=mark]", (box) => box.addEventListener("change", () => draw(box.form, box.value)));
}

document.documentElement.classList.add("scripted");
enliven(document);
wide.addEventListener("change", unfold);
unfold();
