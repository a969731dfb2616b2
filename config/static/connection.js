// Whether the server answers: always in sight while it does not, and a live check that could not
// be asked says so instead of leaving what was true of other values. Nothing here decides anything.
"use strict";

const connection = document.getElementById("connection");

function unchecked() {
  document.querySelectorAll("[data-checks]").forEach((panel) => {
    // What was found stays; a "nothing triggered" or a range of other values does not.
    [...panel.children].forEach((part) => { if (!part.matches(".finding:not(.unchecked)")) part.remove(); });
    const note = document.createElement("p");
    note.className = "finding caution unchecked";
    note.textContent = "▲ Not checked: no connection. What is typed now was not compared with any rule.";
    panel.prepend(note);
  });
}

function connected(is) {
  const was = connection.hidden;
  connection.hidden = is;
  document.body.classList.toggle("cut", !is);
  if (!is) unchecked();
  // Back again: what could not be asked is asked now.
  else if (!was) document.querySelectorAll("[data-checks]").forEach((panel) => htmx.trigger(panel, "again"));
}

window.addEventListener("offline", () => connected(false));
window.addEventListener("online", () => connected(true));
if (!navigator.onLine) connected(false);
["htmx:sendError", "htmx:timeout"].forEach((name) => document.addEventListener(name, () => connected(false)));
document.addEventListener("htmx:responseError", (event) => { if ([502, 503, 504].includes(event.detail.xhr.status)) connected(false); });
document.addEventListener("htmx:afterRequest", (event) => { if (event.detail.successful) connected(true); });
