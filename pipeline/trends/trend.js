"use strict";
// The page reads without this: it ties marks to rows, says a row at its mark, and chooses panels.
const each = (where, what, work) => where.querySelectorAll(what).forEach(work);
const tip = document.getElementById("tip");

function light(row, on) {
  each(document, `[data-row="${row}"]`, (part) => part.classList.toggle("lit", on));
}

function line(kind, text) {
  const part = document.createElement(kind);
  part.textContent = text;
  tip.append(part);
}

function say(mark, event) {
  const row = document.querySelector(`tr[data-row="${mark.dataset.row}"]`);
  tip.replaceChildren();
  line("b", row.cells[0].textContent);
  line("span", row.closest("section").dataset.facts);
  each(row, "td:not(:empty)", (cell) => line("span", `${cell.dataset.label}: ${cell.textContent}`));
  const under = row.nextElementSibling;
  if (under && under.className === "under") line("span", under.textContent);
  tip.hidden = false;
  const most = document.documentElement.clientWidth - tip.offsetWidth - 8;
  tip.style.left = `${Math.max(4, Math.min(event.pageX + 14, most + window.scrollX))}px`;
  tip.style.top = `${event.pageY + 16}px`;
}

function tie(part) {
  const row = part.dataset.row;
  const isMark = part.closest("figure") !== null;
  const come = (event) => { light(row, true); if (isMark) say(part, event); };
  const leave = () => { light(row, false); tip.hidden = true; };
  part.addEventListener("pointerenter", come);
  if (isMark) part.addEventListener("pointermove", (event) => say(part, event));
  part.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") leave(); });
  part.addEventListener("click", (event) => { each(document, ".lit", (lit) => lit.classList.remove("lit")); come(event); });
}

function choose() {
  let shown = 0;
  const wanted = [...document.querySelectorAll("[data-chooses]")].filter((list) => list.value);
  each(document, "section", (panel) => {
    panel.hidden = wanted.some((list) => panel.dataset[list.dataset.chooses] !== list.value);
    shown += !panel.hidden;
  });
  document.querySelector("[role=status]").textContent = `${shown} panel${shown === 1 ? "" : "s"} shown`;
}

each(document, "[data-row]", tie);
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-row]")) return;
  each(document, ".lit", (lit) => lit.classList.remove("lit"));
  tip.hidden = true;
});
document.addEventListener("keydown", (event) => { if (event.key === "Escape") tip.hidden = true; });
each(document, ".choices", (form) => { form.hidden = false; form.addEventListener("input", choose); });
