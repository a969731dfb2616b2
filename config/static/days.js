// Beside a box for a day stands the browser's own calendar; it writes into the box in the order the
// box is shown in, which travels with the form. Nothing here decides anything.
"use strict";

const pad = (n) => String(n).padStart(2, "0");
const inOrder = (order, [year, month, day]) => (order === "mdy" ? `${month}/${day}/${year}` : order === "dmy" ? `${day}/${month}/${year}` : `${year}-${month}-${day}`);
function isoOf(order, text) {
  const parts = text.trim().split(/[-/.]/).map(Number);
  if (parts.length !== 3 || parts.some(Number.isNaN)) return "";
  const [year, month, day] = parts[0] > 31 ? parts : order === "mdy" ? [parts[2], parts[0], parts[1]] : order === "dmy" ? [parts[2], parts[1], parts[0]] : [0, 0, 0];
  return year > 999 ? `${year}-${pad(month)}-${pad(day)}` : "";
}
document.querySelectorAll("input[data-written=day]").forEach((box) => {
  const way = box.form && box.form.elements[`${box.name}-as`], row = document.createElement("div");
  const picker = document.createElement("input"), open = document.createElement("button");
  if (!way || !picker.showPicker) return;
  const order = () => way.value.split("-")[0];
  Object.assign(picker, { type: "date", tabIndex: -1, className: "unseen" });
  picker.setAttribute("aria-hidden", "true");
  Object.assign(open, { type: "button", className: "press quiet calendar", textContent: "▦" });
  open.setAttribute("aria-label", "Calendar");
  open.title = box.labels.length ? box.labels[0].textContent.replace("*", "") : box.getAttribute("aria-label") || "";
  row.className = "measured dated";
  box.before(row);
  row.append(box, way, open, picker);
  open.addEventListener("click", () => { picker.value = isoOf(order(), box.value); picker.showPicker(); });
  picker.addEventListener("change", () => {
    if (picker.value) box.value = inOrder(order(), picker.value.split("-"));
    box.dispatchEvent(new Event("input", { bubbles: true }));
    box.focus();
  });
});
