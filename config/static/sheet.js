// One person's sheet: the focus waits where work begins, and what others saved is told.
// Nothing here decides anything.
"use strict";

const sheet = document.getElementById("sheet");
if (sheet) {
  const write = document.querySelector("details.write-up[open] input:not([type=hidden])");
  const answer = document.querySelector("#answer select");
  const without = document.querySelector("#without input:not([type=hidden])");
  const ready = document.querySelector("[data-next-step]");
  const empty = [...sheet.querySelectorAll("input:not([type=hidden]):not([type=radio]):not([type=checkbox])")].find((field) => !field.value && field.offsetParent);
  const begun = [...sheet.querySelectorAll("[name^=bout][name$=_minutes]")].find((field) => !field.value);
  const repeating = sheet.elements.is_repeat && sheet.elements.is_repeat.value === "True";
  const first = write || without || (repeating ? empty : answer) || begun || (sheet.dataset.begun ? ready : null) || empty;
  // What the last step came to is said where the work is.
  const said = document.querySelector(".messages");
  if (said) document.getElementById("told").before(said);
  if (!isRefused) {
    if (first) first.focus({ preventScroll: true });
    if (workedOn) workedOn.scrollIntoView({ block: "start" });
  } else faceRefused();  // the messages have moved what stands below them

  // Session minutes follow the bouts until somebody types them.
  const minutes = sheet.elements.minutes;
  const bouts = [...sheet.querySelectorAll("[name^=bout][name$=_minutes]")];
  const over = Number(sheet.dataset.boutMinutes) || 0;  // of the bouts that are told in values
  if (minutes && (bouts.length || over)) {
    const needed = minutes.placeholder;
    let own = minutes.value !== "";
    minutes.addEventListener("input", () => { own = minutes.value !== ""; });
    const told = () => {
      if (own) return;
      const sum = bouts.reduce((total, f) => total + (Number(f.value) || 0), over);
      minutes.placeholder = sum ? `bouts: ${sum}` : needed;
    };
    told();
    bouts.forEach((field) => field.addEventListener("input", told));
  }

  // What was typed in another part of this sheet and not saved waits there: say so.
  const parts = { before: "resting vitals", exercise: "exercise", after: "after exercise" };
  Object.entries(parts).forEach(([part, words]) => {
    const own = sheet.dataset.draft, other = own.replace(/-[a-z]+$/, `-${part}`);
    if (other === own || !sessionStorage.getItem(`draft:${other}`)) return;
    const note = document.createElement("p"), link = document.createElement("a");
    note.className = "message warning";
    link.href = location.search ? location.pathname : `${location.pathname}?correct=${part}`;
    link.textContent = `Show ${words}`;
    note.append(`Typed under ${words} and not saved. `, link);
    sheet.before(note);
  });
}

// The time left until a recheck, counted on this device from the server's own moment.
document.querySelectorAll("[data-until]").forEach((clock) => {
  const until = Date.parse(clock.dataset.until), due = clock.textContent;
  const tick = () => {
    const left = Math.round((until - Date.now()) / 1000);
    clock.textContent = left > 0 ? `${due}, in ${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}` : `${due}: now`;
    clock.classList.toggle("due", left <= 0);
  };
  tick();
  setInterval(tick, 1000);
});

// What others did meanwhile: their alerts in the strip, and that somebody saved this very visit.
const day = document.getElementById("day");
if (day) {
  day.addEventListener("htmx:beforeRequest", (event) => { if (document.hidden) event.preventDefault(); });
  day.addEventListener("htmx:beforeSwap", (event) => {
    const { xhr, isError } = event.detail;
    const fresh = new DOMParser().parseFromString(xhr.responseText, "text/html");
    if (isError || !fresh.getElementById("counts")) return;  // the sign-in page
    const old = document.getElementById("strip"), now = fresh.getElementById("strip");
    if (old && now && old.innerHTML !== now.innerHTML && !old.contains(document.activeElement)) old.innerHTML = now.innerHTML;
    const saved = fresh.getElementById("saved"), told = document.getElementById("told");
    if (saved && told && sheet && saved.dataset.version !== sheet.elements.seen_version.value) {
      told.textContent = saved.textContent;
      told.hidden = false;
    }
  });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) htmx.trigger(day, "look"); });
}

// The other unit shows another form: what is typed and not saved comes along, unless the site keeps
// nothing in the browser; then it is asked about.
document.querySelectorAll("form[data-switches]").forEach((form) => form.addEventListener("submit", (event) => {
  const typed = sheet && (sheet.hasAttribute("data-refused") || fieldsOf(sheet).some((field) => (isTick(field) ? field.checked !== field.defaultChecked : field.tagName !== "SELECT" && field.value !== field.defaultValue)));
  if (!typed) return;
  if (keeps) {
    keepDraft(sheet);
    sessionStorage.setItem(SWITCHED, draftName(sheet));
  } else if (!window.confirm("What is typed is not saved yet and would have to be typed again in the other unit. Switch all the same?")) {
    event.preventDefault();
    delete form.dataset.sent;
  }
}));
