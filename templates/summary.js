"use strict";
(() => {
  const root = document.documentElement, $ = id => document.getElementById(id);
  const table = document.querySelector("#rows table"), form = $("filter");
  // The texts that many findings share stand once, at the end; an opened finding shows its own copy.
  const fill = d => {
    const link = d.closest("#rows") && d.querySelector("a[href^='#w']");
    const home = link && $(link.hash.slice(1));
    if (home) { const box = document.createElement("div"); for (const e of home.children) if (e.tagName === "P") box.append(e.cloneNode(true)); link.replaceWith(box); }
  };
  document.addEventListener("toggle", e => { if (e.target.open) fill(e.target); }, true);
  let closed = [];
  addEventListener("beforeprint", () => {
    closed = [...document.querySelectorAll("details:not([open])")];
    for (const d of closed) { fill(d); d.open = true; }
  });
  addEventListener("afterprint", () => { for (const d of closed) d.open = false; });
  root.classList.add("js");
  if (!table) return;
  const SIZE = 300, head = table.tHead.rows[0], count = $("count"), more = $("more");
  const rows = Array.from(table.tBodies).flatMap(b => Array.from(b.rows)), order = new Map(rows.map((r, i) => [r, i]));
  const columns = { tier: 0, check: 3, crew: 7, account: 1 }, text = (r, c) => r.cells[c].textContent.trim();
  const words = new Map(), collator = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });
  let sorted = rows.slice(), shown = SIZE, sort = null;
  for (const name in columns) {
    const values = [...new Set(rows.map(r => text(r, columns[name])))].filter(Boolean);
    if (name !== "tier") values.sort(collator.compare);
    for (const v of values) form.elements[name].add(new Option(v, v));
  }
  const say = r => { let s = words.get(r); if (!s) words.set(r, s = r.textContent.toLowerCase()); return s; };
  const draw = () => {
    const want = form.elements.q.value.toLowerCase().split(/\s+/).filter(Boolean);
    const picks = Object.entries(columns).filter(([n]) => form.elements[n].value);
    const hits = sorted.filter(r => picks.every(([n, c]) => text(r, c) === form.elements[n].value) && want.every(w => say(r).includes(w)));
    while (table.tBodies.length) table.tBodies[0].remove();
    for (let i = 0; i < hits.length || !i; i += SIZE) {
      const body = table.createTBody();
      if (i >= shown) body.className = "h";
      body.append(...hits.slice(i, i + SIZE));
    }
    const said = count.dataset.shown.replace("{shown}", hits.length).replace("{all}", rows.length);
    count.value = said + (hits.length > shown ? ", " + count.dataset.first.replace("{count}", shown) : "");
    more.classList.toggle("on", hits.length > shown);
    return hits;
  };
  const store = () => {
    const p = new URLSearchParams();
    for (const n of ["q", ...Object.keys(columns)]) if (form.elements[n].value) p.set(n, form.elements[n].value);
    history.replaceState(null, "", "#" + p);
  };
  const clear = () => { for (const n of ["q", ...Object.keys(columns)]) form.elements[n].value = ""; shown = SIZE; };
  const follow = () => {
    const hash = decodeURIComponent(location.hash.slice(1).replace(/%(?![0-9a-f]{2})/gi, "%25"));
    if (hash.includes("=")) {
      const p = new URLSearchParams(location.hash.slice(1));
      clear();
      for (const n of ["q", ...Object.keys(columns)]) if (p.has(n)) form.elements[n].value = p.get(n);
      draw();
      $("findings").scrollIntoView();
      return;
    }
    const row = rows.find(r => r.id === hash);
    if (!row) { const d = hash && $(hash); if (d && d.tagName === "DETAILS") d.open = true; return; }
    clear();
    shown = Math.ceil((sorted.indexOf(row) + 1) / SIZE) * SIZE;
    draw();
    const d = row.querySelector("details");
    if (d) { fill(d); d.open = true; }
    row.scrollIntoView({ block: "center" });
  };
  form.addEventListener("input", () => { shown = SIZE; draw(); store(); });
  form.addEventListener("submit", e => e.preventDefault());
  form.addEventListener("reset", () => setTimeout(() => { clear(); draw(); store(); }));
  more.addEventListener("click", () => { shown += SIZE; draw(); });
  // A range of cost sorts by its middle.
  const cost = s => (s.replaceAll(",", "").match(/\d+/g) || []).reduce((sum, n, i, all) => sum + n / all.length, 0);
  const key = (r, c) => c === 5 ? cost(text(r, c)) : text(r, c);
  Array.from(head.cells).forEach((th, c) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...th.childNodes);
    th.append(button);
    button.addEventListener("click", () => {
      const up = sort && sort.c === c ? !sort.up : c !== 5;
      sort = { c, up };
      for (const o of head.cells) o.removeAttribute("aria-sort");
      th.setAttribute("aria-sort", up ? "ascending" : "descending");
      const keys = new Map(rows.map(r => [r, c ? key(r, c) : order.get(r)]));
      const side = up ? 1 : -1;
      sorted.sort((a, b) => {
        const x = keys.get(a), y = keys.get(b);
        if ((x === "") !== (y === "")) return x === "" ? 1 : -1;
        return side * (typeof x === "number" && typeof y === "number" ? x - y : collator.compare(x, y)) || order.get(a) - order.get(b);
      });
      draw();
    });
  });
  head.cells[0].setAttribute("aria-sort", "ascending");
  sort = { c: 0, up: true };
  // Rows stacked under each other lose their meaning as a table in some browsers; the roles give it back.
  const narrow = matchMedia("screen and (max-width:52rem)");
  const roles = () => {
    if (!narrow.matches || table.hasAttribute("role")) return;
    table.setAttribute("role", "table");
    for (const r of rows) { r.setAttribute("role", "row"); for (const c of r.cells) c.setAttribute("role", "cell"); }
  };
  narrow.addEventListener("change", roles);
  roles();
  draw();
  follow();
  addEventListener("hashchange", follow);
})();
