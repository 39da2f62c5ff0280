// Makes the pages better where script runs; none of them needs it.
"use strict";

(function suggestions() {
  const input = document.getElementById("weed");
  const list = document.getElementById("weed-suggestions");
  if (!input || !list) return;
  input.setAttribute("role", "combobox");
  input.setAttribute("aria-autocomplete", "list");
  input.setAttribute("aria-controls", list.id);
  input.setAttribute("aria-expanded", "false");
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Weeds this may mean");
  let timer = 0, latest = 0, at = -1;

  function close() {
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
      item.id = "weed-option-" + index;
      item.setAttribute("role", "option");
      item.setAttribute("aria-selected", "false");
      item.dataset.name = weed.name;
      item.textContent = weed.matched.toLowerCase() === weed.name.toLowerCase() ? weed.name : weed.name + " (" + weed.matched + ")";
      item.addEventListener("mousedown", (event) => { event.preventDefault(); choose(item); });
      return item;
    }));
    list.hidden = !found.length;
    at = -1;
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
  input.addEventListener("blur", () => setTimeout(close, 120));
  input.addEventListener("keydown", (event) => {
    if (list.hidden) return;
    if (event.key === "ArrowDown") { event.preventDefault(); point(at + 1); }
    else if (event.key === "ArrowUp") { event.preventDefault(); point(at - 1); }
    else if (event.key === "Escape") close();
    else if (event.key === "Enter" && at >= 0) { event.preventDefault(); choose(list.children[at]); }
  });
})();

(function questionBesideAnswer() {
  const again = document.getElementById("again");
  if (again && window.matchMedia("(min-width: 1100px)").matches) again.open = true;
})();

(function faultsFirst() {
  const faults = document.getElementById("faults");
  if (faults) faults.focus();
})();

(function everythingInPrint() {
  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details.why:not([open]), details.all:not([open])")];
    for (const part of opened) part.open = true;
  });
  window.addEventListener("afterprint", () => { for (const part of opened) part.open = false; });
})();
