// Small help for every page. Everything works without it; nothing here decides anything.
"use strict";

// A page that answers a refused form leaves by the address of the page the form stood on: reloading
// it, or coming back to it, reads that page and never sends the refused form once more.
if ("posted" in document.body.dataset && document.referrer.startsWith(`${location.origin}/`)) history.replaceState(null, "", document.referrer);

// Where a saved form leads. The same page is read anew, from its top or from what was worked on.
const PLACE = "place";
function leave(next) {
  const to = new URL(next, location.href), isHere = to.pathname === location.pathname && to.search === location.search;
  // After signing in again: the page somebody was on, since what takes a form may not be readable.
  if (to.pathname === "/login/") to.searchParams.set("next", location.pathname + location.search);
  if (!isHere) { location.assign(to); return; }
  if (to.hash) sessionStorage.setItem(PLACE, to.hash.slice(1));
  to.hash = "";
  location.replace(to);
}
const workedOn = document.getElementById(sessionStorage.getItem(PLACE) || location.hash.slice(1));
sessionStorage.removeItem(PLACE);

// What was refused is looked at next: its first box, else the sentence about it. Never a button.
function faceRefused() {
  const main = document.getElementById("main");
  const boxes = [...main.querySelectorAll("[aria-invalid=true]:not([type=hidden])")];
  const wrong = boxes.find((box) => box.offsetParent) || boxes[0] || (main.querySelector("[autofocus]") ? null : main.querySelector(".refused"));
  if (!wrong) return false;
  for (let part = wrong.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
  if (wrong.matches(".refused")) wrong.tabIndex = -1;
  wrong.focus({ preventScroll: true });
  wrong.scrollIntoView({ block: "center" });
  return true;
}
const isRefused = faceRefused();
if (!isRefused && workedOn) workedOn.scrollIntoView({ block: "start" });

// A double click sends a form once. A form whose typing is kept is sent so that a lost connection
// or a stopped server loses nothing: it waits here and is sent again, with the same key, and the
// server counts it once.
const RETRY_MS = 2500;
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "1";
  if (event.submitter && "plain" in event.submitter.dataset) return;  // goes where the button says
  if (!(form.dataset.draft || "keep" in form.dataset) || form.method !== "post" || form.enctype === "multipart/form-data") return;
  event.preventDefault();
  send(form, event.submitter);
});

// What waits to be sent is what was on the form when it was sent: the form rests meanwhile, so that
// nothing typed later is taken for sent. "Go on typing" stops the waiting; the draft keeps all.
function waiting(form, stop) {
  const main = document.getElementById("main");
  if (main.querySelector(".waiting")) return;
  const note = document.createElement("p"), more = document.createElement("button");
  note.className = "message warning waiting";
  note.setAttribute("role", "alert");
  note.textContent = "No connection. What you typed is kept on this device and sent as soon as the server answers. ";
  Object.assign(more, { type: "button", className: "press", textContent: "Go on typing" });
  more.addEventListener("click", () => { stop(); note.remove(); form.inert = false; delete form.dataset.sent; });
  note.append(more);
  main.prepend(note);
  form.inert = true;
}

async function send(form, submitter) {
  const body = new FormData(form, submitter), stopped = new AbortController();
  for (;;) {
    try {
      const response = await fetch(form.action, {
        method: "POST", body, headers: { "X-Kept": "1" }, redirect: "manual", cache: "no-store", signal: stopped.signal,
      });
      if (response.status === 204) {
        const next = response.headers.get("X-Next");
        // A session sheet's draft goes when the page says that it was saved; others go now.
        const draft = form.dataset.draft || "";
        if (draft && !draft.startsWith("visit-") && !next.startsWith("/login/")) sessionStorage.removeItem(draftName(form));
        leave(next);
        return;
      }
      if (![502, 503, 504].includes(response.status)) break;
    } catch { /* no answer: nothing is known to be saved */ }
    connected(false);
    if (stopped.signal.aborted) return;
    waiting(form, () => stopped.abort());
    await new Promise((resolve) => {
      const timer = setTimeout(done, RETRY_MS);
      function done() { clearTimeout(timer); window.removeEventListener("online", done); resolve(); }
      window.addEventListener("online", done);
    });
    if (stopped.signal.aborted) return;
  }
  form.inert = false;
  // Refused: the browser shows the server's page, with the same values and the same key; that page
  // leaves the address that took the form, see above.
  if (submitter && submitter.name) {
    const step = document.createElement("input");
    Object.assign(step, { type: "hidden", name: submitter.name, value: submitter.value });
    form.append(step);
  }
  form.submit();
}
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
});

// One menu open at a time; Escape closes it and gives the focus back.
document.addEventListener("toggle", (event) => {
  const menu = event.target;
  if (!menu.matches || !menu.matches("details.menu") || !menu.open) return;
  document.querySelectorAll("details.menu[open]").forEach((other) => { if (other !== menu) other.open = false; });
}, true);
document.addEventListener("click", (event) => {
  document.querySelectorAll("details.menu[open]").forEach((menu) => { if (!menu.contains(event.target)) menu.open = false; });
});
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  document.querySelectorAll("details.menu[open]").forEach((menu) => { menu.open = false; menu.querySelector("summary").focus(); });
});

// A single letter that acts, and "/", can be switched off under My settings (WCAG 2.1.4).
const hasLetterKeys = document.body.dataset.letters !== "off";
// "/" leads to the box that finds somebody, unless somebody types; a narrow screen opens it first.
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || !hasLetterKeys || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, select, textarea, [contenteditable]") || document.querySelector(":popover-open")) return;
  const box = document.querySelector("form[role=search] input");
  if (!box) return;
  event.preventDefault();
  if (!box.checkVisibility()) box.form.showPopover();
  box.focus();
});
document.getElementById("find")?.addEventListener("toggle", (event) => {
  if (event.newState === "open") event.target.querySelector("input").focus();
});

// Choices that act at once keep their button for people without scripts.
document.querySelectorAll("form[data-auto]").forEach((form) => {
  form.querySelector("button").hidden = true;
  form.addEventListener("change", () => form.requestSubmit());
});
// Ticks in another form of the page go along, so that asking again drops none of them.
document.querySelectorAll("form[data-carry]").forEach((form) => {
  form.addEventListener("submit", () => {
    const add = (name, value) => form.insertAdjacentElement("beforeend", Object.assign(document.createElement("input"), { type: "hidden", name, value }));
    add("asked", "1");
    document.querySelectorAll(`input[name="${form.dataset.carry}"]:checked`).forEach((box) => add(box.name, box.value));
  });
});
document.querySelectorAll("[data-tick-all]").forEach((button) => {
  button.hidden = false;
  button.addEventListener("click", () => button.form.querySelectorAll("input[type=checkbox]").forEach((box) => { box.checked = true; }));
});
document.querySelectorAll("[data-print]").forEach((button) => {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
});

// Sources behind "Why" are on paper too, in browsers that print a closed part closed as well.
window.addEventListener("beforeprint", () => document.querySelectorAll("details:is(.why, .missing):not([open])").forEach((why) => { why.open = true; why.dataset.printed = "1"; }));
window.addEventListener("afterprint", () => document.querySelectorAll("details[data-printed]").forEach((why) => { why.open = false; delete why.dataset.printed; }));

// What is typed survives a reload, the back button and an expired sign-in. It stays in this tab's
// session storage, is offered back, and goes at saving, at sign-out and after twelve hours.
const KEEP_MS = 12 * 3600 * 1000;
const draftName = (form) => `draft:${form.dataset.draft}`;
const fieldsOf = (form) => [...form.elements].filter((e) => e.name && !["hidden", "submit", "password", "file"].includes(e.type));
const isTick = (field) => ["checkbox", "radio"].includes(field.type);
const keyOf = (field) => (isTick(field) ? `${field.name}=${field.value}` : field.name);
const valueOf = (field) => (isTick(field) ? String(field.checked) : field.value);
// What was typed in another unit comes back with that unit behind it, so that nothing is rounded. A
// number that made no sense in its own unit was meant in the other, and stays.
function asShown(field, kept) {
  const value = kept.values[keyOf(field)], was = (kept.units || {})[field.name], now = field.dataset;
  if (!value || !was || was.unit === now.unit) return value;
  const stored = Number(value.replace(",", ".")) * was.per + was.zero;
  if (!(stored >= Number(now.low) && stored <= Number(now.high))) return value;  // its unit is typed already
  return `${value.trim()} ${was.word}`;
}
// A day or an hour comes back with the way it was written in, whatever the site does meanwhile.
function asWritten(field, kept) {
  const way = field.form.elements[`${field.name}-as`], was = (kept.ways || {})[field.name];
  if (way && was && way.value.split(" ")[0] !== was.split(" ")[0]) way.value = was;
}
const differs = (field, kept) => kept && kept !== valueOf(field) && !(field.type === "radio" && kept === "false");

// As the server writes an hour: of 24, or of 12 where the site does.
const hourOf = (at) => {
  const hour = at.getHours(), minutes = String(at.getMinutes()).padStart(2, "0");
  return document.body.dataset.hours === "12" ? `${hour % 12 || 12}:${minutes} ${hour < 12 ? "am" : "pm"}` : `${hour}:${minutes}`;
};

function offer(form, kept, atOnce) {
  const changed = fieldsOf(form).filter((f) => differs(f, asShown(f, kept)));
  const putBack = () => {
    changed.forEach((f) => { if (isTick(f)) f.checked = kept.values[keyOf(f)] === "true"; else f.value = asShown(f, kept); asWritten(f, kept); });
    keepDraft(form);
    form.dispatchEvent(new Event("change", { bubbles: true }));
  };
  if (!changed.length) return;
  if (atOnce) { putBack(); return; }
  const note = document.createElement("div");
  note.className = "finding note";
  note.setAttribute("role", "status");
  note.innerHTML = "<b>● Not saved</b><p></p>";
  note.querySelector("p").textContent = `${changed.length} values typed at ${hourOf(new Date(kept.at))} were not saved.`;
  const back = document.createElement("button");
  back.type = "button";
  back.className = "press";
  back.textContent = "Put them back";
  back.addEventListener("click", () => { putBack(); note.remove(); });
  note.append(back);
  form.prepend(note);
}

// Back from a test run on a tablet: what else was typed comes back by itself, tests that were added
// too, and what was taken is kept with it for the next test.
const keepDraft = (form) => {
  const values = Object.fromEntries(fieldsOf(form).map((f) => [keyOf(f), valueOf(f)]));
  const inUnits = fieldsOf(form).filter((f) => f.dataset.unit);
  const ways = Object.fromEntries(fieldsOf(form).filter((f) => f.dataset.written).map((f) => [f.name, form.elements[`${f.name}-as`].value]));
  const units = Object.fromEntries(inUnits.map((f) => [f.name, { unit: f.dataset.unit, per: Number(f.dataset.per), zero: Number(f.dataset.zero), word: f.dataset.word || f.dataset.unit }]));
  sessionStorage.setItem(draftName(form), JSON.stringify({ at: Date.now(), values, units, ways }));
};
function comeBack(form, kept) {
  const here = new URL(location.href), known = new Set([...form.elements].map((f) => f.name));
  const typed = Object.entries(kept.values).filter(([, value]) => value && value !== "false");
  const added = new Set(typed.filter(([name]) => name.includes("-") && !known.has(name)).map(([name]) => name.split("-")[0]));
  const more = [...added].filter((test) => !here.searchParams.getAll("test").includes(test));
  if (more.length) {
    more.forEach((test) => here.searchParams.append("test", test));
    location.replace(here);
    return;
  }
  fieldsOf(form).filter((f) => !here.searchParams.has(f.name) && differs(f, asShown(f, kept))).forEach((f) => { f.value = asShown(f, kept); asWritten(f, kept); });
  keepDraft(form);
}

// What one person typed is never offered to the next one at the same screen.
const whose = document.body.dataset.user;
if (whose) {
  const before = sessionStorage.getItem("drafts-of");
  if (before && before !== whose) Object.keys(sessionStorage).filter((key) => key.startsWith("draft:")).forEach((key) => sessionStorage.removeItem(key));
  sessionStorage.setItem("drafts-of", whose);
}

// What was just saved goes first: it must never be offered back over the stored values.
document.querySelectorAll("[data-saved-draft]").forEach((saved) => {
  Object.keys(sessionStorage).filter((key) => key.startsWith("draft:" + saved.dataset.savedDraft)).forEach((key) => sessionStorage.removeItem(key));
});

const SWITCHED = "switched";  // the draft that comes back by itself in the other unit
const keeps = document.body.dataset.drafts !== "off";
if (!keeps) Object.keys(sessionStorage).filter((key) => key.startsWith("draft:")).forEach((key) => sessionStorage.removeItem(key));
if (keeps) document.querySelectorAll("form[data-draft]").forEach((form) => {
  const name = draftName(form);
  let kept = null;
  try { kept = JSON.parse(sessionStorage.getItem(name)); } catch { sessionStorage.removeItem(name); }
  if (kept && Date.now() - kept.at > KEEP_MS) { sessionStorage.removeItem(name); kept = null; }
  const isTaken = new URLSearchParams(location.search).has("taken");
  if (form.hasAttribute("data-refused")) keepDraft(form);  // what was sent is what is typed
  if (isTaken) comeBack(form, kept || { values: {} });
  else if (kept && !form.hasAttribute("data-refused")) offer(form, kept, sessionStorage.getItem(SWITCHED) === name || "line" in form.dataset);
  form.addEventListener("input", () => keepDraft(form));
});
sessionStorage.removeItem(SWITCHED);
// One press for a row of the same answer.
document.querySelectorAll("[data-all]").forEach((button) => {
  button.addEventListener("click", () => {
    button.form.querySelectorAll("select").forEach((select) => { select.value = button.dataset.all; });
    button.form.dispatchEvent(new Event("input", { bubbles: true }));
  });
});
// "None of these": no to every criterion that nobody has answered, as if each were pressed. Nothing
// already answered changes, and what hangs on a question ("was there a test?") waits for its yes.
// Undo opens again what these presses answered, and only what still says so.
document.querySelectorAll("[data-none-of-these]").forEach((button) => {
  const boxes = button.form.elements, answered = new Map(), undo = button.nextElementSibling;
  const told = () => {
    undo.hidden = !answered.size;
    undo.textContent = `Undo ${answered.size} answers`;
    button.form.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const choose = (box, value) => {  // a list of radio buttons cannot be set to an empty value
    if (box instanceof RadioNodeList) [...box].find((one) => one.value === value).checked = true; else box.value = value;
  };
  button.hidden = false;
  button.addEventListener("click", () => {
    button.form.querySelectorAll("[data-none]").forEach(({ name, dataset: { none, needs } }) => {
      if (boxes[name].value || (needs && boxes[needs].value !== "yes")) return;
      choose(boxes[name], none);
      answered.set(name, none);
    });
    told();
  });
  undo.addEventListener("click", () => {
    answered.forEach((none, name) => { if (boxes[name].value === none) choose(boxes[name], ""); });
    answered.clear();
    told();
  });
});
// Signed out by hand: drafts go in every tab, and no other tab goes on showing somebody.
const door = new BroadcastChannel("sign-out");
if (new URLSearchParams(location.search).has("signed-out")) {
  sessionStorage.clear();
  door.postMessage("");
  history.replaceState(null, "", location.pathname);
}
door.onmessage = () => { sessionStorage.clear(); location.replace("/login/"); };

// A file over the limit is refused before a byte of it travels.
document.querySelectorAll("input[type=file][data-max-bytes]").forEach((field) => {
  field.addEventListener("change", () => {
    const file = field.files[0], most = Number(field.dataset.maxBytes);
    const over = file && file.size > most;
    field.setCustomValidity(over ? `This file is ${(file.size / 1048576).toFixed(1)} MB; at most ${most / 1048576} MB.` : "");
    if (over) field.reportValidity();
  });
});

// Signed out meanwhile: a part of a page never shows the sign-in page in its place.
document.addEventListener("htmx:beforeSwap", (event) => {
  if (new URL(event.detail.xhr.responseURL).pathname.startsWith("/login/")) event.detail.shouldSwap = false;
});
