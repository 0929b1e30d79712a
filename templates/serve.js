"use strict";
(() => {
  const $ = id => document.getElementById(id), drop = $("drop"), say = $("say"), jobs = $("jobs");
  const given = document.currentScript.dataset, most = Number(given.most), kept = Number(given.kept), says = JSON.parse(given.says);
  const tell = (word, name) => says[word].replace("{name}", () => name).replace("{most}", most / 1048576);
  const make = (tag, text, parent) => { const e = document.createElement(tag); e.textContent = text; parent.append(e); return e; };
  const ask = async (way, options) => {
    let answer;
    try { answer = await fetch(way, options); } catch { throw new Error(tell("stopped")); }
    const told = await answer.json();
    if (!answer.ok) throw new Error(told.trouble);
    return told;
  };
  const wait = ms => new Promise(done => setTimeout(done, ms));
  const show = (box, key, state) => {
    if (state.trouble) {
      make("p", state.trouble, box).className = "bad";
      say.value = tell("failed", state.name);
      return;
    }
    make("p", Object.entries(state.verdicts).map(([word, count]) => count + " " + word.replace("-", " ")).join(", "), box);
    const list = make("ul", "", box);
    for (const file of state.files) {
      const item = make("li", "", list), link = make("a", file.name, item);
      link.href = "job/" + key + "/file/" + encodeURIComponent(file.name);
      if (file.name.endsWith(".html")) link.target = "_blank"; else link.download = file.name;
      item.append(": " + file.words);
    }
    const forget = make("button", tell("forget"), box);
    forget.type = "button";
    forget.addEventListener("click", async () => {
      try { await ask("job/" + key + "/forget", { method: "POST" }); } catch { /* it is gone already */ }
      box.remove();
      say.value = tell("forgotten");
    });
    say.value = tell("ready", state.name);
  };
  const send = async file => {
    const box = document.createElement("article");
    jobs.prepend(box);
    while (jobs.children.length > kept) jobs.lastElementChild.remove();
    make("h2", file.name, box);
    const line = make("p", tell("sending"), box), bar = document.createElement("progress");
    bar.setAttribute("aria-label", tell("bar", file.name));
    box.append(bar);
    say.value = tell("auditing", file.name);
    try {
      if (file.size > most) throw new Error(tell("large"));
      const query = new URLSearchParams({ name: file.name, units: $("units").value, language: $("language").value, dates: $("dates").value });
      for (const name of ["owner", "hide"]) if ($(name).checked) query.set(name, "1");
      const key = (await ask("audit?" + query, { method: "POST", body: file })).job;
      let state = await ask("job/" + key);
      while (!state.done) { line.textContent = state.stage; await wait(150); state = await ask("job/" + key); }
      line.remove(); bar.remove();
      show(box, key, state);
    } catch (trouble) {
      line.remove(); bar.remove();
      make("p", trouble.message, box).className = "bad";
      say.value = tell("failed", file.name);
    }
  };
  const all = files => { for (const file of files) send(file); };
  $("file").addEventListener("change", e => { all(e.target.files); e.target.value = ""; });
  for (const kind of ["dragover", "drop", "dragleave"]) addEventListener(kind, e => {
    e.preventDefault();
    drop.classList.toggle("over", kind === "dragover");
    if (kind === "drop") all(e.dataTransfer.files);
  });
  $("stop").addEventListener("click", async () => {
    try { await ask("stop", { method: "POST" }); } catch { /* it has stopped */ }
    jobs.replaceChildren();
    say.value = tell("ended");
    for (const e of document.querySelectorAll("input, select, button")) e.disabled = true;
  });
})();
