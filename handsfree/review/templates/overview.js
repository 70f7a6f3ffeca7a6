"use strict";
// Adds sorting and a search box to the table, which is complete and sorted by urgency without it.
(() => {
  const table = document.getElementById("dogs");
  if (!table) return;
  const body = table.tBodies[0];
  const rows = Array.from(body.rows);
  const search = document.getElementById("search");
  const count = document.getElementById("count");
  document.querySelector(".tools").hidden = false;

  const show = () => {
    const wanted = search.value.trim().toLowerCase();
    let shown = 0;
    for (const row of rows) {
      row.hidden = !row.textContent.toLowerCase().includes(wanted);
      shown += row.hidden ? 0 : 1;
    }
    count.textContent = wanted ? `${shown} of ${rows.length} dogs` : "";
  };
  search.addEventListener("input", show);

  const heads = Array.from(table.tHead.rows[0].cells);
  heads.forEach((head, column) => {
    if (!head.hasAttribute("aria-sort")) return;
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    head.textContent = "";
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      heads.forEach((other) => other.hasAttribute("aria-sort") && other.setAttribute("aria-sort", "none"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const key = (row) => row.cells[column].dataset.key || "";
      rows.sort((a, b) => key(a).localeCompare(key(b), undefined, { numeric: true }) * (down ? -1 : 1));
      body.append(...rows);
    });
  });
})();
