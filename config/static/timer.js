// A counted test (taps until the time is over) or timed trials. See running.js.
"use strict";

const COUNTS = runner.dataset.kind === "count";
const LIMIT = Number(runner.dataset.limit) || Infinity; // seconds
const DIGITS = Number(runner.dataset.digits || 0);
const rows = [...runner.querySelectorAll("[data-trial]")];
// One trial a row; a counted test has one trial with a count.
const state = kept({ at: 0, count: 0, trials: rows.map(() => ({ start: null, seconds: null })) });
const keep = () => sessionStorage.setItem(place, JSON.stringify(state));
const trial = () => state.trials[state.at];
const isRunning = () => trial().start !== null && trial().seconds === null;
const elapsed = () => (isRunning() ? Math.min((Date.now() - trial().start) / 1000, LIMIT) : trial().seconds ?? 0);

// Tenths are cut, not rounded, where a limit is held to: 9.96 s is no stance of ten.
const written = (s) => (LIMIT < Infinity ? Math.floor(s * 10) / 10 : s).toFixed(DIGITS);

function stop(after) {
  trial().seconds = after;
  rows[state.at].querySelector("input").value = COUNTS ? state.count : written(after);
  keepTyped();
  maySleep();
}
function keepTyped() {
  rows.forEach((row, n) => { state.trials[n].typed = row.querySelector("input").value; });
  keep();
}
function show() {
  if (isRunning() && elapsed() >= LIMIT) {
    stop(LIMIT);
    if (sound) beep(sound.currentTime, 3);
  }
  const running = isRunning(), done = trial().seconds !== null;
  part("time").textContent = COUNTS ? clock(Math.ceil(LIMIT - elapsed())) : `${running ? elapsed().toFixed(1) : written(elapsed())} s`;
  if (COUNTS) part("count").textContent = state.count;
  part("start").hidden = running || done;
  part("tap").hidden = !running;
  part("next").hidden = running || !done || COUNTS || state.at + 1 >= rows.length;
  part("stop-early").hidden = !(running && COUNTS);
  part("take").hidden = running;
  rows.forEach((row, n) => row.classList.toggle("now", n === state.at));
}
function click(name, act) { part(name).addEventListener("click", () => { act(); keep(); show(); }); }

click("start", () => { trial().start = Date.now(); openSound(); stayAwake(); });
click("tap", () => { if (COUNTS) state.count += 1; else stop(elapsed()); });
click("stop-early", () => stop(elapsed()));
click("next", () => { state.at += 1; });
click("again", () => {
  if (!window.confirm("Throw this test away and begin again?")) return;
  closeSound();
  Object.assign(state, { at: 0, count: 0, trials: rows.map(() => ({ start: null, seconds: null })) });
  rows.forEach((row) => { row.querySelector("input").value = ""; });
});
document.addEventListener("visibilitychange", () => { if (!document.hidden && isRunning()) stayAwake(); show(); });
rows.forEach((row, n) => {
  row.querySelector("input").value = state.trials[n].typed ?? "";
  row.querySelector("input").addEventListener("input", keepTyped); // the count can be corrected
});
part("take").addEventListener("submit", forget);
setInterval(show, 100);
show();
