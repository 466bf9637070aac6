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

  for (const tool of tools("drawing")) {
    const figure = tool.closest("figure");
    const frame = figure.querySelector(".scroll");
    const told = figure.querySelector(".told");
    const svg = frame.querySelector("svg");
    if (!svg) continue;
    const natural = Number(svg.getAttribute("width"));
    let scale = 1;
    let touched = false;
    let drag = null;
    // The point of the drawing at (x, y) of its frame stays where it is.
    const zoom = (to, x = frame.clientWidth / 2, y = frame.clientHeight / 2) => {
      const before = svg.getBoundingClientRect();
      const at = frame.getBoundingClientRect();
      const [dx, dy] = [x + at.left - before.left, y + at.top - before.top];
      scale = Math.min(6, Math.max(0.2, to));
      svg.setAttribute("width", Math.round(natural * scale));
      frame.classList.toggle("held", scale > 1);
      const grown = svg.getBoundingClientRect().width / before.width;
      frame.scrollLeft = dx * grown - x;
      frame.scrollTop = dy * grown - y;
    };
    const whole = () => zoom(frame.clientWidth / natural, 0, 0);
    for (const button of tool.querySelectorAll("button")) {
      const by = Number(button.dataset.zoom);
      button.addEventListener("click", () => (by ? zoom(scale * by) : whole()));
    }
    frame.addEventListener("keydown", (event) => {
      touched = false;
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      if (event.key === "+" || event.key === "=") zoom(scale * 1.25);
      else if (event.key === "-") zoom(scale * 0.8);
      else if (event.key === "0") whole();
      else return;
      event.preventDefault();
    });
    frame.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return;
      event.preventDefault();
      const at = frame.getBoundingClientRect();
      zoom(scale * (event.deltaY < 0 ? 1.15 : 1 / 1.15), event.clientX - at.left, event.clientY - at.top);
    }, { passive: false });

    const titleOf = (item) => [...item.children].find((child) => child.localName === "title");
    const items = [...svg.querySelectorAll("[data-item]")].filter(titleOf);
    let shown = null;
    const show = (item) => {
      shown = item;
      for (const each of items) each.classList.toggle("is-at", item !== null && each.dataset.item === item.dataset.item);
      const states = { "is-live": "LIVE in the chosen condition", "is-out": "not live by the record: prove it",
        "is-unknown": "NOT KNOWN whether it is live" };
      const state = item && Object.keys(states).find((name) => item.classList.contains(name));
      told.textContent = item ? `${titleOf(item).textContent}${state ? `. ${states[state]}` : ""}` : "";
    };
    const itemAt = (from) => {
      let at = from;
      while (at && at !== frame && !items.includes(at)) at = at.parentElement;
      return at === frame ? null : at;
    };
    frame.addEventListener("pointerover", (event) => {
      const item = event.pointerType === "touch" || drag ? null : itemAt(event.target);
      if (item) show(item);
    });
    frame.addEventListener("focusin", (event) => {
      const item = touched ? null : itemAt(event.target) || event.target.querySelector("[data-item]");
      if (items.includes(item)) show(item);
    });
    frame.addEventListener("pointerdown", (event) => {
      touched = event.pointerType === "touch";
      drag = touched || event.button ? null : { x: event.clientX, y: event.clientY, moved: false };
    });
    frame.addEventListener("pointermove", (event) => {
      if (!drag || !event.buttons) return;
      const [dx, dy] = [event.clientX - drag.x, event.clientY - drag.y];
      if (!drag.moved && Math.hypot(dx, dy) < 5) return;
      if (!drag.moved) frame.setPointerCapture(event.pointerId);
      frame.scrollBy(-dx, -dy);
      drag = { x: event.clientX, y: event.clientY, moved: true };
    });
    frame.addEventListener("dragstart", (event) => event.preventDefault());
    frame.addEventListener("click", (event) => {
      const moved = drag && drag.moved;
      drag = null;
      if (moved) return event.preventDefault();
      const item = itemAt(event.target);
      // A finger cannot hover: its first tap tells, its second follows the link.
      if (touched && item && item !== shown && event.target.closest("a")) {
        event.preventDefault();
        show(item);
        told.textContent += ". Tap again for its entry";
      } else if (item) show(item);
      return undefined;
    });
    tool.hidden = false;
  }

  // A label's code ends in the revision of the record that it was printed from.
  const main = document.getElementById("main");
  const compare = (tool) => {
    const label = /^#at=([0-9a-f]{4,64})$/.exec(location.hash);
    tool.hidden = label === null;
    if (!label) return;
    const ours = main.dataset.revision;
    const same = ours !== "" && (ours.startsWith(label[1]) || label[1].startsWith(ours));
    tool.querySelector("p").textContent = same
      ? `This label is of the same record as this book: ${label[1]}.`
      : `This label is of record ${label[1]}; this book is of ${ours || "files that are no revision"}. `
        + "What the label says may have changed: look at what changed before you trust it.";
    tool.classList.toggle("differs", !same);
    tool.querySelector("a").hidden = same;
  };
  for (const tool of tools("label")) {
    compare(tool);
    addEventListener("hashchange", () => compare(tool));
  }
})();
