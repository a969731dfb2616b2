// The queue of plans without a mouse. Every key presses what stands on the page; all have a modifier.
"use strict";
{
  const part = (name) => document.querySelector(`[data-key="${name}"]`);
  const fold = document.querySelector("[data-fold]");
  if (fold && matchMedia("(max-width: 1000px)").matches) fold.open = false;
  fold?.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest" });

  // The next or previous changed part of the plan, from the one that was looked at last.
  let at = 0;
  function change(step) {
    const n = document.querySelectorAll("[id^=change-]").length;
    if (!n) return;
    at = at + step < 1 ? n : at + step > n ? 1 : at + step;
    const row = document.getElementById(`change-${at}`);
    row.focus({ preventScroll: true });
    row.scrollIntoView({ block: "center" });
  }

  function sendBack() {
    const menu = part("back");
    if (!menu) return;
    menu.open = true;
    menu.querySelector("input[type=radio]").focus();
  }

  const keys = {
    "alt ArrowDown": () => part("next")?.click(),
    "alt ArrowUp": () => part("previous")?.click(),
    "alt KeyC": () => change(1),
    "alt shift KeyC": () => change(-1),
    "alt KeyB": sendBack,
    "ctrl Enter": () => part("sign")?.click(),
  };
  document.addEventListener("keydown", (event) => {
    // Inside the reasons Ctrl Enter is theirs: a plan that goes back is never signed by one key.
    if (event.target.closest?.("[data-key=back] form") && event.code === "Enter") return;
    const held = [event.altKey && "alt", (event.ctrlKey || event.metaKey) && "ctrl", event.shiftKey && "shift"];
    const act = keys[[...held.filter(Boolean), event.code.replace("NumpadEnter", "Enter")].join(" ")];
    if (!act || event.repeat) return;
    event.preventDefault();
    act();
  });
}
