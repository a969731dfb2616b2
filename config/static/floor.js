// The class as one table, by hand: Enter saves a line and goes to the next person, one letter says
// "no changes", the bar acts on the person whose line has the focus. What others changed appears by
// itself, never in a line somebody is typing in. Nothing here decides anything.
"use strict";

const table = document.getElementById("roster");
const day = document.getElementById("day");
const classes = document.getElementById("class-list"), chosen = classes?.querySelector("[aria-current]");
if (chosen) classes.scrollLeft = chosen.offsetLeft - classes.offsetLeft;  // where the classes of a day do not fit
const people = () => [...document.querySelectorAll("tbody[data-row]")];
const lineOf = (person) => person.querySelector("form[data-line]");
const boxesOf = (person) => [...lineOf(person).elements].filter((box) => box.name && ["INPUT", "SELECT"].includes(box.tagName) && box.type !== "hidden");
const isTyped = (box) => (box.type === "checkbox" ? box.checked !== box.defaultChecked : box.tagName === "SELECT" ? [...box.options].some((option) => option.selected !== option.defaultSelected) : box.value !== box.defaultValue);
const isDirty = (person) => "refused" in person.dataset || boxesOf(person).some(isTyped);
const personOf = (part) => part && part.closest && part.closest("tbody[data-row]");
const personBy = (key) => table && table.querySelector(`tbody[data-row="${key}"]`);
const sending = new Set();  // keys of people whose line is on its way
let isStuck = false;  // everybody else is on the way too: where to go on is known when they are back

// On a small screen lines are drawn as blocks, which are no table to a screen reader unless told so.
const ROLES = { table: "table", thead: "rowgroup", tbody: "rowgroup", tr: "row", th: "columnheader", td: "cell" };
function prepared(part) {
  part.querySelectorAll("form[data-line]").forEach((form) => { form.autocomplete = "off"; });
  if (!window.matchMedia("(max-width: 1000px)").matches) return part;
  [part, ...part.querySelectorAll(Object.keys(ROLES).join())].forEach((one) => { const role = ROLES[one.localName]; if (role) one.setAttribute("role", role); });
  return part;
}
if (table) prepared(table);

// --- focus --------------------------------------------------------------------------------------

function firstBox(person) {
  const boxes = boxesOf(person);
  return boxes.find((box) => box.tagName === "INPUT" && box.type !== "checkbox" && !box.value) || boxes[0]
    || (person.dataset.enter && person.querySelector(".now button:not(.unseen)"));
}
function waits(person) {
  const { enter, row } = person.dataset;  // a check in without boxes belongs to another part of the work
  return enter !== "" && !sending.has(row) && (enter !== "arrive" || boxesOf(person).length > 0);
}
function goTo(person) {
  const box = person && firstBox(person);
  if (!box) return false;
  box.focus({ preventScroll: true });
  if (box.select) box.select();
  const { top, bottom } = person.getBoundingClientRect(), bar = document.querySelector(".floor-bar");
  if (top < 0 || bottom > window.innerHeight - (bar ? bar.offsetHeight : 0)) person.scrollIntoView({ block: "center" });
  return true;
}
function goOn(person) {
  const all = people(), at = all.indexOf(person);
  return [...all.slice(at + 1), ...all.slice(0, at)].some((next) => waits(next) && goTo(next));
}

// --- the bar ------------------------------------------------------------------------------------

const bar = { whom: document.getElementById("bar-person"), stop: document.getElementById("bar-stop"), next: document.getElementById("bar-next"), said: document.getElementById("bar-said"), key: "" };
const STEPS = { arrive: "Check in, next", save: "Save, next", start: "Start exercise", finish: "Finish, next" };

function showInBar(person) {
  if (!bar.whom || !person) return;
  const { name, now, state, enter, row } = person.dataset;
  bar.key = row;
  bar.whom.hidden = false;
  bar.whom.querySelector("b").textContent = name;
  bar.whom.querySelector("span").textContent = now;
  bar.stop.hidden = state !== "exercising" || !person.querySelector("button[formaction*='/stop/']");
  bar.stop.setAttribute("aria-label", `Stop exercise: ${name}`);
  bar.next.hidden = !enter;
  bar.next.textContent = STEPS[enter] || "";
  people().forEach((other) => other.classList.toggle("at", other === person));
}
function say(words, isBad) {
  if (!bar.said) return;
  bar.said.textContent = words;
  bar.said.className = isBad ? "bad" : "";
}
if (bar.stop) {
  bar.stop.addEventListener("click", () => { const person = personBy(bar.key); if (person) stop(person); });
  bar.next.addEventListener("click", () => { const person = personBy(bar.key); if (person) press(person, person.dataset.enter); });
}
document.addEventListener("focusin", (event) => { const person = personOf(event.target); if (person) showInBar(person); });

// --- sending a line -----------------------------------------------------------------------------

const BUSY_MS = 300;
const stopped = (person) => { const button = person.querySelector("button[formaction*='/stop/']:not([formaction$='/undo/'])"); return button && button.formAction; };
// Exercise stops first, whatever is typed; what was typed is saved after it.
async function stop(person) {
  const to = stopped(person), { row } = person.dataset;
  if (!to) return;
  const typed = isDirty(person) ? new FormData(lineOf(person)) : null, { action } = lineOf(person);
  await sendLine(person, "stop", to);
  const after = personBy(row);
  if (typed && after) sendLine(after, "save", action, typed);
}
function press(person, step) {
  if (!step || sending.has(person.dataset.row)) return;
  sendLine(person, step, lineOf(person).action);
  if (step !== "next") isStuck = !goOn(person);
}

async function sendLine(person, step, action, typed) {
  const key = person.dataset.row, form = lineOf(person), { name } = person.dataset;
  const body = typed || new FormData(form);
  body.set("step", step);
  sending.add(key);
  person.classList.add("sending");
  const busy = setTimeout(() => person.classList.add("busy"), BUSY_MS);
  for (;;) {
    try {
      const response = await fetch(action, { method: "POST", body, headers: { "HX-Request": "true" }, redirect: "manual", cache: "no-store" });
      if (response.type === "opaqueredirect" || response.redirected) { location.assign(`/login/?next=${encodeURIComponent(location.pathname + location.search)}`); return; }
      if (response.ok) {
        connected(true);
        clearTimeout(busy);
        sending.delete(key);
        const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
        const came = fresh.getElementById("came"), isRefused = came && "refused" in came.dataset;
        if (!isRefused) sessionStorage.removeItem(draftName(form));
        person.classList.remove("sending", "busy");
        takeOver(fresh, key);
        say(came ? `${name}: ${came.textContent.trim().replace(/\s+/g, " ")}` : "", isRefused);
        if (isStuck && !sending.size) { isStuck = false; people().filter(waits).some(goTo); }
        return;
      }
      if (![502, 503, 504].includes(response.status)) {
        clearTimeout(busy);
        sending.delete(key);
        person.classList.remove("sending", "busy");
        say(`${name}: not saved (${response.status}). What you typed stays in the line.`, true);
        return;
      }
    } catch { /* no answer: nothing is known to be saved, and the same key is sent again */ }
    connected(false);
    person.classList.add("kept");
    say(`${name}: no connection. Kept on this device, sent as soon as the server answers.`, true);
    await new Promise((resolve) => { setTimeout(resolve, RETRY_MS); window.addEventListener("online", resolve, { once: true }); });
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target, button = event.submitter;
  if (!("line" in form.dataset) || (button && "plain" in button.dataset)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  const person = personOf(form);
  if (sending.has(person.dataset.row) && !(button && button.formAction.includes("/stop/"))) return;
  if (button && button.formAction.endsWith("/stop/")) stop(person);
  else if (button && button.hasAttribute("formaction")) sendLine(person, "undo", button.formAction);
  else press(person, button ? button.value : person.dataset.enter);
}, true);

// --- keys ---------------------------------------------------------------------------------------

// A unit is typed behind a number ("182 lb"): its letters are no keys once there is something in the box.
const isInUnit = (box) => /_(kg|mgdl)$/.test(box.name) && box.value !== "";
const isNumber = (box) => box.tagName === "INPUT" && (box.inputMode === "decimal" || box.dataset.kind === "pressure");
function letter(event, person) {
  const key = event.key.toLowerCase();
  if (key === "n" && person) {
    const none = person.querySelector("[data-none]");
    if (!none) return false;
    none.checked = !none.checked;
    none.dispatchEvent(new Event("input", { bubbles: true }));
    return true;
  }
  if (key === "b" && person && person.querySelector("button[value=next]")) { press(person, "next"); return true; }
  const stage = { c: "checkin", e: "exercise", f: "finish" }[key];
  const link = stage && document.querySelector(`#stages [data-stage=${stage}]`);
  if (link) link.click();
  return Boolean(link);
}
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const box = event.target, person = personOf(box), isBox = ["INPUT", "SELECT", "TEXTAREA"].includes(box.tagName);
  if (person && isBox && event.key === "Enter") {
    event.preventDefault();
    press(person, person.dataset.enter);
    return;
  }
  if (hasLetterKeys && /^[a-z]$/i.test(event.key) && !(isBox && isInUnit(box) && /[^n]/i.test(event.key)) && (!isBox || isNumber(box) || box.type === "checkbox") && letter(event, person)) event.preventDefault();
  if (!person || !["ArrowDown", "ArrowUp"].includes(event.key) || box.tagName === "SELECT") return;
  const all = people(), step = event.key === "ArrowDown" ? 1 : -1;
  for (let at = all.indexOf(person) + step; all[at]; at += step) {
    const same = isBox && boxesOf(all[at]).find((other) => other.name === box.name);
    const to = same || firstBox(all[at]) || all[at].querySelector("a.who");
    if (to) { event.preventDefault(); to.focus(); if (to.select) to.select(); return; }
  }
});
document.addEventListener("input", (event) => {
  const person = personOf(event.target);
  if (!person) return;
  person.classList.toggle("dirty", isDirty(person));
  if (keeps) keepDraft(lineOf(person));
});

// --- what others changed ------------------------------------------------------------------------

const bare = (person) => {
  const copy = person.cloneNode(true);
  copy.removeAttribute("class");
  copy.querySelectorAll("form[autocomplete]").forEach((form) => form.removeAttribute("autocomplete"));
  copy.querySelectorAll("[role=row], [role=cell]").forEach((part) => part.removeAttribute("role"));
  copy.querySelectorAll("[name=csrfmiddlewaretoken], [name=submission_key], [data-said]").forEach((part) => part.remove());
  copy.querySelectorAll("details").forEach((details) => { details.open = false; });
  return copy.innerHTML.replace(/\s+/g, " ");
};
function mayReplace(old, key) {
  if (old.dataset.row === key) return true;
  return !sending.has(old.dataset.row) && !old.querySelector("details[open]") && !isDirty(old);
}

function takeOver(fresh, key) {
  ["counts", "class-list", "stages"].forEach((id) => {
    const old = document.getElementById(id), now = fresh.getElementById(id);
    if (old && now && old.innerHTML !== now.innerHTML && !old.contains(document.activeElement)) old.innerHTML = now.innerHTML;
  });
  const list = fresh.getElementById("fresh");
  if (!table || !list) return;
  const order = [...list.querySelectorAll("tbody[data-row]")].map((now) => {
    const old = personBy(now.dataset.row);
    if (!old) return prepared(document.adoptNode(now));
    if (!mayReplace(old, key) || (old.dataset.row !== key && bare(old) === bare(now))) return old;
    const had = old.contains(document.activeElement) && document.activeElement, mine = prepared(document.adoptNode(now));
    old.replaceWith(mine);
    if (had && !isStuck) {
      const same = had.name && boxesOf(mine).find((box) => box.name === had.name);
      if (same) same.focus({ preventScroll: true }); else goTo(mine);
    }
    return mine;
  });
  people().forEach((person) => { if (!order.includes(person) && !person.contains(document.activeElement)) person.remove(); });
  // Lines change places around the one that has the focus, which stays.
  const at = order.findIndex((person) => person.contains(document.activeElement));
  order.forEach((person, place) => { if (at >= 0 && place < at) order[at].before(person); else if (place !== at) table.append(person); });
  if (at >= 0) order.slice(at + 1).forEach((person) => table.append(person));
  if (bar.key) showInBar(personBy(bar.key));
  const isBusy = people().some(isDirty) || personOf(document.activeElement) || sending.size;
  if ("followsClock" in day.dataset && list.dataset.stageNow !== table.dataset.stage && !isBusy) location.reload();
}

// The page asks by htmx; what comes is taken over line by line, since a plain swap would take the
// focus away from whoever types.
if (day) {
  day.addEventListener("htmx:beforeRequest", (event) => { if (document.hidden) event.preventDefault(); });
  day.addEventListener("htmx:beforeSwap", (event) => {
    const { xhr, isError } = event.detail;
    if (isError || xhr.status === 204) return;
    const fresh = new DOMParser().parseFromString(xhr.responseText, "text/html");
    if (fresh.getElementById("counts")) takeOver(fresh);  // not the sign-in page
  });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) htmx.trigger(day, "look"); });
}

people().forEach((person) => person.classList.toggle("dirty", isDirty(person)));
if (!isRefused && !document.querySelector("[data-said]")) people().filter(waits).some(goTo);
else { const said = document.querySelector("[data-said]"); if (said) goTo(personOf(said)); }
