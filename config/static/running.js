// What every test run on a tablet shares. The clock goes by moments, not by ticks, so a locked screen
// or a reload loses nothing; once loaded nothing here needs the network. Nothing is stored in the
// record until the assessment is saved.
"use strict";

const runner = document.getElementById("runner");
const part = (name) => runner.querySelector(`[data-part="${name}"]`);
const place = `runner:${runner.dataset.run}`;
const kept = (first) => Object.assign(first, JSON.parse(sessionStorage.getItem(place) || "{}"));
const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
const forget = () => sessionStorage.removeItem(place);

// The screen stays on while a test runs, where the device allows it.
let awake = null;
async function stayAwake() {
  try { awake = await navigator.wakeLock.request("screen"); } catch { /* not allowed: the clock goes on all the same */ }
}
function maySleep() { if (awake) awake.release(); awake = null; }

let sound = null;
function beep(at, count = 1) {
  for (let n = 0; n < count; n += 1) {
    const tone = sound.createOscillator(), volume = sound.createGain();
    tone.frequency.value = 880;
    volume.gain.value = 0.5;
    tone.connect(volume).connect(sound.destination);
    tone.start(at + n * 0.2);
    tone.stop(at + n * 0.2 + 0.12);
  }
}
function openSound() {
  if (sound) sound.close();
  sound = new AudioContext();
  sound.resume();
}
function closeSound() { if (sound) sound.close(); sound = null; }
