// The floor by keyboard: arrows walk the roster, the open sheet takes the focus where work begins.
"use strict";

const rows = [...document.querySelectorAll("tr[data-row]")];
document.addEventListener("keydown", (event) => {
  if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
  const row = event.target.closest && event.target.closest("tr[data-row]");
  if (!row || ["SELECT", "INPUT", "TEXTAREA"].includes(event.target.tagName)) return;
  const next = rows[rows.indexOf(row) + (event.key === "ArrowDown" ? 1 : -1)];
  if (!next) return;
  event.preventDefault();
  next.querySelector(".act a, .act button").focus();
});

const sheet = document.getElementById("sheet");
if (sheet) {
  const opened = document.querySelector("tr.open");
  const wrong = sheet.querySelector(".is-invalid");
  const answer = document.querySelector(".finding form select");
  const ready = document.querySelector("[data-next-step]");
  const empty = [...sheet.querySelectorAll("input:not([type=hidden])")].find((field) => !field.value);
  const begun = sheet.elements.bout1_minutes && !sheet.elements.bout1_minutes.value ? sheet.elements.bout1_minutes : null;
  const repeating = sheet.elements.is_repeat && sheet.elements.is_repeat.value === "True";
  const first = wrong || (repeating ? empty : answer) || (sheet.dataset.begun ? ready : null) || begun || empty;
  if (opened) opened.scrollIntoView({ block: "start" });
  if (first) first.focus({ preventScroll: !wrong });

  // Session minutes follow the bouts until somebody types them.
  const minutes = sheet.elements.minutes;
  const bouts = [1, 2, 3, 4].map((n) => sheet.elements[`bout${n}_minutes`]).filter(Boolean);
  if (minutes && bouts.length) {
    let own = minutes.value !== "";
    minutes.addEventListener("input", () => { own = minutes.value !== ""; });
    bouts.forEach((field) => field.addEventListener("input", () => {
      if (own) return;
      const sum = bouts.reduce((total, f) => total + (Number(f.value) || 0), 0);
      minutes.placeholder = sum ? `bouts: ${sum}` : "";
    }));
  }
} else {
  const next = document.querySelector("tr[data-row] .btn.go");
  if (next) next.focus({ preventScroll: true });
}
