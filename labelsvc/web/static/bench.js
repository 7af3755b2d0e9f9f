// Small comforts; every page works without them: drafts that outlive a cut network, one more row without a round trip, no second
// press while the first is on its way, and news of a printer.
"use strict";
(() => {
  const key = (form) => `draft:${form.dataset.draft}`;
  const fields = (form) => [...form.elements].filter((one) => one.name && !["hidden", "submit", "password", "file"].includes(one.type));
  const store = {
    get(name) { try { return JSON.parse(localStorage.getItem(name)); } catch { return null; } },
    set(name, value) { try { localStorage.setItem(name, JSON.stringify(value)); } catch { /* a full or closed store loses only the draft */ } },
    drop(name) { try { localStorage.removeItem(name); } catch { /* nothing to drop */ } },
  };

  document.querySelectorAll('meta[name="draft-done"]').forEach((one) => store.drop(`draft:${one.content}`));

  const addRow = (list) => {
    const rows = list.querySelectorAll(".row");
    const last = rows[rows.length - 1];
    if (!last) return false;
    const number = rows.length, row = last.cloneNode(true);
    row.querySelectorAll(".problem, .row-title").forEach((one) => one.remove());
    row.querySelectorAll("input, select, textarea").forEach((one) => {
      const old = one.name;
      one.name = old.replace(/-\d+-/, `-${number}-`);
      const label = row.querySelector(`label[for="${one.id}"]`);
      one.id = one.id.replace(/-\d+-/, `-${number}-`);
      if (label) label.htmlFor = one.id;
      if (one.tagName === "SELECT") one.value = last.querySelector(`[name="${old}"]`).value;
      else one.value = "";
    });
    last.after(row);
    return row;
  };

  const said = (one) => (one.type === "checkbox" ? one.checked : one.value);

  const keep = (form) => {
    const draft = {};
    fields(form).forEach((one) => { draft[one.name] = said(one); });
    store.set(key(form), draft);
  };

  const putBack = (form) => {
    const draft = store.get(key(form));
    if (!draft || "problem" in form.dataset) return;
    let changed = false;
    for (const [name, value] of Object.entries(draft)) {
      const rowOf = name.match(/^(.+)-(\d+)-/);
      const list = rowOf && form.querySelector(`[data-rows="${rowOf[1]}"]`);
      while (list && list.querySelectorAll(".row").length <= Number(rowOf[2]) && addRow(list)) { /* as many as were typed */ }
      const one = form.elements.namedItem(name);
      if (!one || !one.closest || one.type === "hidden" || said(one) === value) continue;
      if (one.type === "checkbox") one.checked = Boolean(value);
      else one.value = value;
      changed = true;
      const folded = one.closest("details");
      if (folded) folded.open = true;
    }
    if (!changed) return;
    const told = document.createElement("p");
    told.className = "told note";
    told.id = "put-back";
    told.append("What you typed before is back. ");
    const away = document.createElement("button");
    away.type = "button";
    away.className = "more";
    away.textContent = "Start empty";
    away.addEventListener("click", () => { store.drop(key(form)); location.reload(); });
    told.append(away);
    form.prepend(told);
  };

  const offline = document.getElementById("offline");
  const showNetwork = () => { if (offline) offline.hidden = navigator.onLine; };
  addEventListener("online", showNetwork);
  addEventListener("offline", showNetwork);
  showNetwork();

  document.querySelectorAll("form[data-draft]").forEach((form) => {
    putBack(form);
    form.addEventListener("input", () => keep(form));
    form.addEventListener("submit", (event) => {
      if (event.submitter && event.submitter.name === "more") return;
      keep(form);
      if (!navigator.onLine) {
        event.preventDefault();
        showNetwork();
        offline.scrollIntoView();
        return;
      }
      if (form.dataset.sent) event.preventDefault();
      form.dataset.sent = "yes";
    });
    // A scanner ends with Enter: after a code that means the next field (how many is seldom said), not yet the press.
    form.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || !event.target.closest(".field.lot")) return;
      const empty = fields(form).find((one) => one !== event.target && one.offsetParent && !one.value && !one.closest("details, .field.count"));
      if (!empty) return;
      event.preventDefault();
      empty.focus();
    });
    form.addEventListener("click", (event) => {
      const button = event.target.closest("button.more[name=more]");
      const row = button && addRow(button.closest("[data-rows]"));
      if (!row) return;
      event.preventDefault();
      (row.querySelector(".weight input") || row.querySelector("input, select")).focus();
      keep(form);
    });
  });
  addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent));

  // A marker printed ahead goes to the next row without one; hung on wrongly, it is typed over.
  document.querySelectorAll("[data-markers]").forEach((shelf) => {
    shelf.hidden = false;
    shelf.addEventListener("click", (event) => {
      const marker = event.target.closest("button[value]");
      const list = marker && document.querySelector('[data-rows="pieces"]');
      if (!list) return;
      const next = () => [...list.querySelectorAll('input[name$="-marker"]')].find((one) => !one.value);
      if (!next()) addRow(list);
      const field = next();
      field.value = marker.value;
      marker.hidden = true;
      const weight = field.closest(".row").querySelector(".weight input");
      if (!weight.value) weight.focus();
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
  });

  // A scanner types wherever the page is: what is typed into no field goes to the box on top.
  const scan = document.getElementById("scan");
  document.addEventListener("keydown", (event) => {
    const isTyped = event.key.length === 1 && event.key !== " " && !event.ctrlKey && !event.metaKey && !event.altKey;
    if (scan && isTyped && !event.target.closest("input, select, textarea")) scan.focus();
  });

  // The PIN pad types into the field beside it; a keyboard does as well.
  document.querySelectorAll("[data-pad]").forEach((pad) => {
    pad.hidden = false;
    const typed = document.getElementById(pad.dataset.pad);
    pad.addEventListener("click", (event) => {
      const key = event.target.closest("button[value]");
      if (key) typed.value = key.value === "back" ? typed.value.slice(0, -1) : (typed.value + key.value).slice(0, typed.maxLength);
    });
  });

  // Labels on their way to a printer: ask how it stands until it is over.
  // Each time a little later, and not for ever: a bench that is left alone shall be found left alone.
  const ask = (place, times = 1) => times <= 20 && setTimeout(async () => {
    try {
      const answer = await fetch(place.dataset.ask);
      const told = document.createRange().createContextualFragment(await answer.text()).firstElementChild;
      if (!answer.ok || !told || told.getAttribute("role") !== "status") return;
      place.replaceWith(told);
      if (told.dataset.ask) ask(told, times + 1);
    } catch { ask(place, times + 1); /* the network is away, and may come back */ }
  }, Math.min(700 * 1.3 ** times, 10000));
  document.querySelectorAll("[data-ask]").forEach((place) => ask(place));

  // The browser puts the cursor where the page waits only when it draws it; a quick hand or scanner types before that.
  const waits = document.querySelector("[autofocus]");
  if (waits && document.activeElement === document.body) waits.focus();

  const problem = document.getElementById("problem");
  if (problem) problem.scrollIntoView({ block: "center" });
})();
