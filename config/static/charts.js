// Draw each chart from the figure in the page; colours follow the style sheet.
"use strict";

const PAPER_WIDTH = 620; // of A4 and letter within their margins, in CSS pixels

const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function draw(holder, figures) {
  const figure = structuredClone(figures[holder.dataset.figure]);
  Object.assign(figure.layout, {
    paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", autosize: true,
    font: { family: "system-ui, sans-serif", size: 12, color: ink("--ink-2") },
  });
  for (const axis of ["xaxis", "yaxis"]) {
    figure.layout[axis] = { gridcolor: ink("--line"), linecolor: ink("--line-strong"), zeroline: false, ...figure.layout[axis] };
  }
  for (const trace of figure.data) {
    trace.marker = { ...trace.marker, color: ink("--accent") };
    trace.line = { ...trace.line, color: ink("--accent"), width: 2 };
    if (trace.error_y) trace.error_y.color = ink("--ink");
    trace.textfont = { color: ink("--ink") };
  }
  return Plotly.react(holder, figure.data, figure.layout, { displayModeBar: false, responsive: true });
}

const source = document.getElementById("figures");
if (source) {
  const figures = JSON.parse(source.textContent);
  const all = () => document.querySelectorAll("[data-figure]").forEach((holder) => draw(holder, figures));
  all();
  // Paper is narrower than most screens, and a drawing keeps the width it was made for.
  const paper = { width: PAPER_WIDTH, autosize: false };
  addEventListener("beforeprint", () => document.querySelectorAll("[data-figure]").forEach((holder) => Plotly.relayout(holder, paper)));
  addEventListener("afterprint", all);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", all);
}
