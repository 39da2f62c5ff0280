// Makes the pages better where script runs; none of them needs it.
"use strict";

function suggestWeeds(input) {
  const list = document.getElementById(input.id + "-suggestions");
  if (!list) return;
  input.removeAttribute("list");  // The plain list of names is for pages without script.
  for (const [name, value] of Object.entries({
    role: "combobox", "aria-autocomplete": "list", "aria-controls": list.id, "aria-expanded": "false",
  })) input.setAttribute(name, value);
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Weeds this may mean");
  let timer = 0, latest = 0, at = -1;

  function close() {
    latest += 1;  // What is still under way is no longer wanted.
    list.hidden = true;
    at = -1;
    input.setAttribute("aria-expanded", "false");
    input.removeAttribute("aria-activedescendant");
  }
  function choose(item) { input.value = item.dataset.name; close(); input.focus(); }
  function point(to) {
    const items = list.children;
    if (!items.length) return;
    at = (to + items.length) % items.length;
    for (const item of items) item.setAttribute("aria-selected", String(item === items[at]));
    input.setAttribute("aria-activedescendant", items[at].id);
  }
  function show(found) {
    list.replaceChildren(...found.map((weed, index) => {
      const item = document.createElement("li");
      item.id = list.id + "-" + index;
      item.setAttribute("role", "option");
      item.setAttribute("aria-selected", "false");
      item.dataset.name = weed.name;
      item.textContent = weed.matched.toLowerCase() === weed.name.toLowerCase() ? weed.name : weed.name + " (" + weed.matched + ")";
      item.addEventListener("mousedown", (event) => { event.preventDefault(); choose(item); });
      return item;
    }));
    list.hidden = !found.length;
    at = -1;
    input.removeAttribute("aria-activedescendant");
    input.setAttribute("aria-expanded", String(found.length > 0));
  }
  async function ask() {
    const text = input.value.trim(), turn = ++latest;
    if (text.length < 2) { close(); return; }
    try {
      const answer = await fetch("/suggest?q=" + encodeURIComponent(text), { credentials: "same-origin" });
      if (answer.ok && turn === latest) show(await answer.json());
    } catch (error) {
      close();  // Without an answer the field is an ordinary one.
    }
  }
  input.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 120); });
  input.addEventListener("blur", () => { clearTimeout(timer); setTimeout(close, 120); });
  input.addEventListener("keydown", (event) => {
    if (list.hidden) return;
    if (event.key === "ArrowDown") { event.preventDefault(); point(at + 1); }
    else if (event.key === "ArrowUp") { event.preventDefault(); point(at < 0 ? -1 : at - 1); }
    else if (event.key === "Escape") { event.preventDefault(); close(); }
    else if (event.key === "Enter" && at >= 0) { event.preventDefault(); choose(list.children[at]); }
  });
}
for (const input of document.querySelectorAll("[data-suggest]")) suggestWeeds(input);

(function shortAddress() {
  // Fields that were left empty are not sent; the server tidies the address where script does not run.
  const form = document.querySelector("form.question");
  if (!form) return;
  form.addEventListener("formdata", (event) => {
    for (const [name, value] of [...event.formData]) if (value === "") event.formData.delete(name);
  });
})();

(function questionBesideAnswer() {
  const again = document.getElementById("again");
  const desk = window.matchMedia("(min-width: 1100px)");
  if (!again) return;
  const set = () => { if (desk.matches) again.open = true; };
  set();
  desk.addEventListener("change", set);
})();

(function fieldsInsideFolds() {
  // A link to a field or program opens every fold around it.
  document.addEventListener("click", (event) => {
    const link = event.target.closest('a[href^="#"]');
    const target = link && document.getElementById(decodeURIComponent(link.hash.slice(1)));
    if (!target) return;
    for (let fold = target.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    if (target.matches("input, select")) { event.preventDefault(); target.focus(); target.scrollIntoView({ block: "center" }); }
  });
})();

(function faultsFirst() {
  const faults = document.getElementById("faults");
  if (faults) faults.focus();
})();

(function ratesOnTheLabel() {
  // As soon as product, turf or method is chosen, the rates of the label follow; without script a button shows them.
  const form = document.querySelector("form[data-label-rates]");
  if (!form) return;
  let latest = 0;
  form.addEventListener("change", async (event) => {
    if (!["p1", "p2", "p3", "turf", "method"].includes(event.target.name)) return;
    const asked = new URLSearchParams(new FormData(form)), turn = ++latest;
    asked.set("look", "rates");
    try {
      const answer = await fetch(form.getAttribute("action") + "?" + asked, { credentials: "same-origin" });
      if (!answer.ok || turn !== latest) return;
      const shown = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const id of ["p1", "p2", "p3"]) {
        for (const part of [id + ".at", id + "-label"]) {
          const here = document.getElementById(part), there = shown.getElementById(part);
          if (here && there) here.replaceChildren(...there.childNodes);
        }
      }
    } catch (error) {
      return;  // The button shows them.
    }
  });
})();

(function everythingInPrint() {
  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("main details:not([open]):not(.cite):not(.again):not(.more)")];
    for (const part of opened) part.open = true;
  });
  window.addEventListener("afterprint", () => { for (const part of opened) part.open = false; });
})();

(function jobUnderWay() {
  // The page refreshes itself where script does not run; here only what changes is asked for.
  const text = document.querySelector("[data-poll]"), bar = document.getElementById("job-bar");
  if (!text) return;
  async function look() {
    try {
      const answer = await fetch(text.dataset.poll, { credentials: "same-origin" });
      if (answer.ok) {
        const job = await answer.json();
        if (!job.going || (job.situations && !bar)) { location.reload(); return; }
        if (text.textContent !== job.text) text.textContent = job.text;
        if (bar) { bar.max = job.situations; bar.value = job.planned + job.failed; }
      }
    } catch (error) {
      // The app may be away for a moment; the next look asks again.
    }
    setTimeout(look, 2000);
  }
  setTimeout(look, 2000);
})();

(function longWork() {
  // Planning takes a minute; a second tap would ask for it again.
  const forms = document.querySelectorAll("form[data-busy]"), busy = new Map();
  for (const form of forms) {
    form.addEventListener("submit", (event) => {
      const button = event.submitter;
      if (!button) return;
      // Once the form is on its way, since a button that is off is not sent.
      setTimeout(() => { busy.set(button, button.textContent); button.disabled = true; button.textContent = form.dataset.busy; }, 0);
    });
  }
  window.addEventListener("pageshow", () => { for (const [button, words] of busy) { button.disabled = false; button.textContent = words; } });
})();
