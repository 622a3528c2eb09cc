// Tables that sort by a press on their heads and copy as tab-separated text.
"use strict";
function keyOf(text) {
  const found = text.replace("−", "-").replace("< ", "").match(/^[-+]?\d+(\.\d+)?(e[-+]?\d+)?/i);
  return found ? parseFloat(found[0]) : null;
}
function sorted(table, column, down) {
  const body = table.tBodies[0];
  const rows = [...body.rows].map((row, place) => ({ row, place, text: row.cells[column].textContent.trim() }));
  rows.sort((a, b) => {
    const [x, y] = [keyOf(a.text), keyOf(b.text)];
    let order;
    if (x !== null && y !== null) order = x - y;
    else if (x === null && y === null) order = a.text.localeCompare(b.text);
    else return x === null ? 1 : -1;
    return (down ? -order : order) || a.place - b.place;
  });
  body.append(...rows.map((entry) => entry.row));
}
for (const table of document.querySelectorAll(".table table")) {
  [...table.tHead.rows[0].cells].forEach((head, column) => {
    head.querySelector("button").addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      sorted(table, column, down);
    });
  });
}
function tabbed(table) {
  return [...table.rows].map((row) => [...row.cells].map((c) => c.textContent.trim()).join("\t")).join("\n");
}
async function copied(text) {
  try { await navigator.clipboard.writeText(text); return true; } catch { /* not allowed from a file */ }
  const area = document.createElement("textarea");
  area.value = text;
  document.body.append(area);
  area.select();
  const done = document.execCommand("copy");
  area.remove();
  return done;
}
for (const button of document.querySelectorAll("button.copy")) {
  button.addEventListener("click", async () => {
    const done = await copied(tabbed(button.parentElement.querySelector("table")));
    button.textContent = done ? "copied" : "copying is not allowed here";
    setTimeout(() => { button.textContent = "copy table"; }, 1500);
  });
}
// A link into detail that is folded away opens it.
function openedAt(hash) {
  const target = hash.length > 1 ? document.getElementById(hash.slice(1)) : null;
  for (let at = target; at; at = at.parentElement) if (at.tagName === "DETAILS") at.open = true;
  if (target) target.scrollIntoView();
}
addEventListener("hashchange", () => openedAt(location.hash));
