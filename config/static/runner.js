// The six-minute and the shuttle walk: lengths, rests, time and tones. See running.js.
"use strict";

const state = kept({ start: null, stop: null, lengths: 0, rests: [], shuttles: null, course: null, last: null });
const keep = () => sessionStorage.setItem(place, JSON.stringify(state));
const seconds = () => (state.start === null ? 0 : ((state.stop ?? Date.now()) - state.start) / 1000);
const on = (name, act) => part(name) && part(name).addEventListener("click", () => { act(); keep(); show(); });
const isRunning = () => state.start !== null && state.stop === null;
document.addEventListener("visibilitychange", () => {
  if (!document.hidden && isRunning()) stayAwake();
  // Sound that was suspended stood still while the walk went on: its tones would come late.
  if (!document.hidden && sound && sound.state !== "running") closeSound();
  show();
});

// --- six minutes -----------------------------------------------------------------------------
const MINUTES = 6;
const course = part("course"), last = part("last");
if (course) {
  course.value = state.course ?? course.value;
  last.value = state.last ?? "";
}
const metres = () => state.lengths * (Number(course.value) || 0) + (Number(last.value) || 0);
const resting = () => state.rests.length > 0 && state.rests.at(-1).until === undefined;

function sixMinutes() {
  const left = Math.max(0, MINUTES * 60 - seconds());
  if (isRunning() && left === 0) {
    state.stop = state.start + MINUTES * 60000;
    keep();
    if (sound) beep(sound.currentTime, 3);
    last.focus();
  }
  part("time").textContent = clock(Math.ceil(left));
  part("count").textContent = state.lengths;
  part("distance").textContent = `${metres()} m`;
  part("rest").textContent = resting() ? "Resume walking" : "Rest";
  const rested = state.rests.reduce((sum, r) => sum + ((r.until ?? Math.min(Date.now(), state.stop ?? Infinity)) - r.from) / 1000, 0);
  part("rested").textContent = state.rests.length ? `${state.rests.length} rests, ${clock(rested)} in all` : "no rest";
  part("field-distance").value = metres();
  part("field-course").value = course.value;
  part("field-rests").value = state.rests.length;
  part("field-ended").value = state.stop !== null && seconds() < MINUTES * 60 ? Math.floor(seconds()) : "";
}

// --- shuttles --------------------------------------------------------------------------------
const levels = runner.dataset.kind === "shuttle" ? JSON.parse(document.getElementById("levels").textContent) : [];
// When each shuttle must be done, in seconds from the start, and whether a level ends there.
const shuttleTimes = [];
levels.forEach((shuttles, level) => {
  for (let n = 1; n <= shuttles; n += 1) shuttleTimes.push({ at: level * 60 + (n * 60) / shuttles, ends: n === shuttles });
});
window.shuttleTimes = shuttleTimes;

function planBeeps() {
  openSound();
  const now = seconds();
  if (now < 0.5) beep(sound.currentTime + 0.05, 3);
  shuttleTimes.filter((s) => s.at > now).forEach((s) => beep(sound.currentTime + s.at - now, s.ends ? 3 : 1));
}
const reached = () => state.shuttles ?? shuttleTimes.filter((s) => s.at <= seconds()).length;
function levelOf(count) {
  let left = count, level = 1;
  while (level < levels.length && left > levels[level - 1]) { left -= levels[level - 1]; level += 1; }
  return [level, left];
}
function shuttleWalk() {
  if (isRunning() && seconds() >= levels.length * 60) { state.stop = state.start + levels.length * 60000; keep(); }
  const [level, shuttles] = levelOf(reached());
  part("time").textContent = clock(seconds());
  part("count").textContent = `${level}.${shuttles}`;
  part("distance").textContent = `${reached() * 10} m`;
  part("sound").hidden = !isRunning() || sound !== null;
  part("field-level").value = level;
  part("field-shuttles").value = shuttles;
}

// --- both ------------------------------------------------------------------------------------
function show() {
  (runner.dataset.kind === "shuttle" ? shuttleWalk : sixMinutes)();
  part("start").hidden = state.start !== null;
  runner.querySelectorAll("[data-while]").forEach((piece) => {
    piece.hidden = piece.dataset.while === "running" ? !isRunning() : state.stop === null;
  });
}
on("start", () => {
  state.start = Date.now();
  stayAwake();
  if (runner.dataset.kind === "shuttle") planBeeps(); else openSound();
});
on("length", () => { state.lengths += 1; });
on("fewer", () => {
  if (runner.dataset.kind === "shuttle") state.shuttles = Math.max(0, reached() - 1); else state.lengths = Math.max(0, state.lengths - 1);
});
on("more", () => {
  if (runner.dataset.kind === "shuttle") state.shuttles = Math.min(shuttleTimes.length, reached() + 1); else state.lengths += 1;
});
on("rest", () => { if (resting()) state.rests.at(-1).until = Date.now(); else state.rests.push({ from: Date.now() }); });
on("stop", () => {
  state.stop = Date.now();
  if (resting()) state.rests.at(-1).until = state.stop;
  if (runner.dataset.kind === "shuttle") state.shuttles = reached();
  closeSound();
  maySleep();
});
on("sound", planBeeps);
on("again", () => {
  if (!window.confirm("Throw this test away and begin again?")) return;
  closeSound();
  Object.assign(state, { start: null, stop: null, lengths: 0, rests: [], shuttles: null, last: "" });
  if (last) last.value = "";
});
runner.addEventListener("input", () => {
  if (course) Object.assign(state, { course: course.value, last: last.value });
  keep();
  show();
});
part("take").addEventListener("submit", forget);
setInterval(show, 200);
show();
