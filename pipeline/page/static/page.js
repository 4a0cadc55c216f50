"use strict";
// The pages work without this: it ties marks to rows, narrows long lists and spares a click.
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

const wide = window.matchMedia("(min-width: 60rem)");
function unfold() {
  each(document, "[data-wide-open]", (part) => { part.open = wide.matches; });
}

document.documentElement.classList.add("scripted");
each(document, "[data-row]", tie);
each(document, "figure [data-row]", lead);
each(document, "[data-finds]", narrow);
// A choice made by mouse or closed list goes at once; by arrow keys it waits for Enter on the button.
each(document, "[data-submits]", (list) => list.addEventListener("change", () => {
  if (!list.matches(":focus-visible")) list.form.requestSubmit();
}));
wide.addEventListener("change", unfold);
unfold();
