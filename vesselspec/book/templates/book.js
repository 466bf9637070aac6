"use strict";
(() => {
  const remember = (key, value) => {
    try {
      if (value === undefined) return localStorage.getItem(`vesselspec-${key}`) || "";
      localStorage.setItem(`vesselspec-${key}`, value);
    } catch { /* a browser that keeps nothing for files */ }
    return "";
  };
  const here = document.querySelector("nav.pages [aria-current]");
  if (here) here.closest("ul").scrollLeft = here.offsetLeft - 20;

  const tools = (kind) => document.querySelectorAll(`[data-tool="${kind}"]`);

  for (const tool of tools("theme")) {
    const select = tool.querySelector("select");
    const show = () => { document.documentElement.dataset.theme = select.value; };
    select.value = remember("theme");
    select.addEventListener("change", () => { remember("theme", select.value); show(); });
    show();
    tool.hidden = false;
  }

  for (const tool of tools("filter")) {
    const input = tool.querySelector("input");
    const said = tool.querySelector(".said");
    const rows = [...document.querySelectorAll(`[data-filter="${tool.dataset.table}"] tbody tr`)];
    const texts = rows.map((row) => row.textContent.toLowerCase());
    const filter = () => {
      const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
      let shown = 0;
      rows.forEach((row, at) => {
        const fits = words.every((word) => texts[at].includes(word));
        row.hidden = !fits;
        if (fits) shown += 1;
      });
      said.textContent = words.length ? `${shown} of ${rows.length} rows` : "";
    };
    input.addEventListener("input", filter);
    tool.hidden = false;
    if (input.value) filter();
  }

  const holder = document.getElementById("live-table");
  const table = holder ? JSON.parse(holder.textContent) : {};
  for (const tool of tools("condition")) {
    const select = tool.querySelector("select");
    const said = tool.querySelector(".said");
    const items = [...document.querySelectorAll("[data-item]")];
    const cells = items.map((item) => item.querySelector(".live"));
    const words = cells.map((cell) => (cell ? cell.textContent : ""));
    const show = () => {
      const chosen = Object.hasOwn(table, select.value) ? table[select.value] : null;
      const live = new Set(chosen ? chosen.live : []);
      const open = new Set(chosen ? chosen.open : []);
      const untraced = new Set(chosen ? chosen.untraced : []);
      let count = 0;
      items.forEach((item, at) => {
        const id = item.dataset.item;
        item.classList.toggle("is-live", live.has(id));
        const unknown = !live.has(id) && (untraced.has(id) || Boolean(chosen && chosen.gaps));
        item.classList.toggle("is-unknown", unknown);
        item.classList.toggle("is-out", chosen !== null && !live.has(id) && !unknown);
        if (!cells[at]) return;
        if (live.has(id)) count += 1;
        const now = live.has(id) ? "LIVE" : untraced.has(id) ? "NOT KNOWN: untraced" : unknown ? "NOT KNOWN" : "not live by the record";
        cells[at].textContent = chosen ? (open.has(id) ? `${now}, stands open` : now) : words[at];
      });
      const gaps = chosen && chosen.gaps ? ` More may be live: ${chosen.gaps}.` : "";
      const all = cells.filter(Boolean).length;
      said.textContent = chosen ? `${chosen.name}${all ? `: ${count} of ${all} live` : ""}.${gaps}` : "";
    };
    select.value = remember("condition");
    if (select.selectedIndex < 0) select.value = "";
    select.addEventListener("change", () => { remember("condition", select.value); show(); });
    tool.hidden = false;
    show();
  }
})();
