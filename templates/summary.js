"use strict";
(() => {
  const $ = id => document.getElementById(id), table = document.querySelector("#rows table"), form = $("filter");
  // Sentences that many lines share stand once, with gaps; a line names each by number, with its figures.
  const said = [...document.querySelectorAll("#said li")].map(e => e.textContent.split("…"));
  const told = short => short.split("§").slice(1).map(s => {
    const [number, ...figures] = s.trim().split(" ");
    return said[number - 1].map((part, i) => (i ? figures[i - 1] : "") + part).join("");
  });
  const fill = d => {
    for (const node of d.closest("#rows") ? [...d.childNodes].filter(n => n.nodeType === Node.TEXT_NODE) : []) {
      node.replaceWith(...told(node.data).map(text => Object.assign(document.createElement("p"), { textContent: text })));
    }
  };
  // Names in the tables of counts narrow the list; they become links when somebody is near them.
  const link = t => {
    if (!t || t.querySelector("a")) return;
    for (const r of t.tBodies[0].rows) {
      const a = document.createElement("a"), cell = r.cells[0];
      a.href = "#" + new URLSearchParams({ [t.dataset.field]: cell.textContent.trim() });
      a.append(...cell.childNodes);
      cell.append(a);
    }
  };
  for (const t of document.querySelectorAll(".counted")) if (!t.closest("details")) link(t);
  document.addEventListener("toggle", e => { if (e.target.open) { fill(e.target); link(e.target.querySelector(".counted")); } }, true);
  const SIZE = 300;
  let closed = [], hits, rows, sorted, onScreen, shown = SIZE, sort = { c: 0, up: true };
  addEventListener("beforeprint", () => {
    // Lines that are not on screen are not in the document; paper gets all of them.
    if (table) { know(); onScreen = shown; shown = hits.length; draw(); }
    closed = [...document.querySelectorAll("details:not([open])")];
    for (const d of closed) { fill(d); d.open = true; }
  });
  addEventListener("afterprint", () => {
    for (const d of closed) d.open = false;
    if (table) { shown = onScreen; draw(); }
  });
  document.documentElement.classList.add("js");
  // Without scripts a filter in an address leads to the counts of its tier; here it narrows the list instead.
  for (const d of document.querySelectorAll("details[id*='=']")) d.removeAttribute("id");
  if (!table) return;
  const head = table.tHead.rows[0], body = table.tBodies[0], count = $("count"), more = $("more");
  const place = { tier: 0, check: 3, crew: 7, account: 1, day: 8 };
  const names = Object.keys(place).filter(n => form.elements[n]), fields = ["q", ...names];
  const collator = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });
  // The lines after the first stand in the document as text, where only a browser without scripts reads them as a table.
  // They are cut into lines when somebody asks for them, and made into rows when they are shown.
  const parse = html => { const t = document.createElement("template"); t.innerHTML = html; return t.content; };
  const plain = new Map();
  const bare = html => {
    let s = plain.get(html);
    if (s === undefined) {
      s = html.replace(/<[^>]*>/g, " ").trim();
      plain.set(html, s = s.includes("&") ? parse(s).textContent : s);
    }
    return s;
  };
  // Text of a cell; of what was found, the sentence that is always seen.
  const cell = (r, c) => bare(r.cells[c].split("</summary>")[0]);
  const know = () => {
    if (rows) return;
    const others = document.querySelector("#rows noscript");
    rows = Array.from(body.rows, e => ({ id: e.id, row: e, html: e.outerHTML }));
    for (const html of others ? others.textContent.split("<tr id=").slice(1) : []) {
      rows.push({ id: html.slice(1, html.indexOf('"', 1)), html: "<tr id=" + html.split("</tbody>")[0] });
    }
    rows.forEach((r, i) => { r.i = i; r.cells = r.html.split(/<td[^>]*>/).slice(1); });
    sorted = hits = rows;
    for (const n of names) {
      const values = [...new Set(rows.map(r => cell(r, place[n])))].filter(Boolean);
      if (n !== "tier") values.sort(collator.compare);
      form.elements[n].append(...values.map(v => new Option(v, v)));
    }
  };
  const made = lines => {
    const missing = lines.filter(r => !r.row);
    const found = missing.length ? parse("<table>" + missing.map(r => r.html).join("") + "</table>").querySelectorAll("tr") : [];
    missing.forEach((r, i) => { r.row = found[i]; });
    return lines.map(r => r.row);
  };
  const text = r => r.text ||= [bare(r.html), ...Array.from(r.html.matchAll(/<\/(?:summary|svg|p)>(§[^<]*)/g), m => told(m[1])).flat()].join(" ").toLowerCase();
  // Rows stacked under each other lose their meaning as a table in some browsers; the roles give it back.
  const narrow = matchMedia("screen and (max-width:52rem)");
  const roles = () => {
    if (!narrow.matches && !table.hasAttribute("role")) return;
    table.setAttribute("role", "table");
    for (const r of body.rows) if (!r.hasAttribute("role")) {
      r.setAttribute("role", "row");
      for (const c of r.cells) c.setAttribute("role", "cell");
    }
  };
  const draw = () => {
    know();
    const want = form.elements.q.value.toLowerCase().split(/\s+/).filter(Boolean);
    const picks = names.filter(n => form.elements[n].value).map(n => [place[n], form.elements[n].value]);
    hits = sorted.filter(r => picks.every(([c, v]) => cell(r, c) === v) && want.every(w => text(r).includes(w)));
    body.replaceChildren(...made(hits.slice(0, shown)));
    roles();
    const first = hits.length > shown;
    count.value = count.dataset.shown.replace("{shown}", hits.length).replace("{all}", rows.length)
      + (first ? ", " + count.dataset.first.replace("{count}", shown) : "");
    more.classList.toggle("on", first);
  };
  const choose = p => {
    know();
    for (const n of fields) form.elements[n].value = p.get(n) || "";
    shown = SIZE;
    draw();
  };
  const store = () => {
    const p = new URLSearchParams();
    for (const n of fields) if (form.elements[n].value) p.set(n, form.elements[n].value);
    history.replaceState(null, "", "#" + p);
  };
  const follow = () => {
    const hash = location.hash.slice(1);
    if (hash.includes("=")) {
      choose(new URLSearchParams(hash));
      $("findings").scrollIntoView();
    } else if (hash) {
      know();
      const line = rows.find(r => r.id === hash);
      if (!line) return;
      choose(new URLSearchParams());
      shown = Math.ceil((sorted.indexOf(line) + 1) / SIZE) * SIZE;
      draw();
      const d = line.row.querySelector("details");
      fill(d);
      d.open = true;
      line.row.scrollIntoView({ block: "center" });
    }
  };
  form.addEventListener("focusin", know);
  form.addEventListener("input", () => { shown = SIZE; draw(); store(); });
  form.addEventListener("submit", e => e.preventDefault());
  form.addEventListener("reset", e => { e.preventDefault(); choose(new URLSearchParams()); store(); });
  more.addEventListener("click", () => { shown += SIZE; draw(); });
  // A range of cost sorts by its middle.
  const cost = s => (s.replaceAll(",", "").match(/\d+/g) || []).reduce((sum, n, i, all) => sum + n / all.length, 0);
  const spotted = values => new Map([...new Set(values)].sort(collator.compare).map((v, i) => [v, i]));
  Array.from(head.cells).forEach((th, c) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...th.childNodes);
    th.append(button);
    button.addEventListener("click", () => {
      know();
      const up = sort.c === c ? !sort.up : c !== 5;
      sort = { c, up };
      for (const o of head.cells) o.removeAttribute("aria-sort");
      th.setAttribute("aria-sort", up ? "ascending" : "descending");
      const values = rows.map(r => cell(r, c)), spots = spotted(values);
      const keys = values.map((v, i) => !c ? i : !v ? null : c === 5 ? cost(v) : spots.get(v));
      const side = up ? 1 : -1;
      sorted = rows.slice().sort((a, b) => {
        const x = keys[a.i], y = keys[b.i];
        if (x === null || y === null) return (x === null) - (y === null) || a.i - b.i;
        return side * (x - y) || a.i - b.i;
      });
      draw();
    });
  });
  head.cells[0].setAttribute("aria-sort", "ascending");
  narrow.addEventListener("change", roles);
  roles();
  follow();
  addEventListener("hashchange", follow);
  // Search, filters and sorting are ready before anybody reaches for them.
  (window.requestIdleCallback || setTimeout)(know);
})();
