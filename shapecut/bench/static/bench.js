// The page: its steps, and what stands above them all.

import "./beginning.js";
import "./photographs.js";
import "./outline.js";
import "./corrections.js";
import "./edges.js";
import "./boards.js";
import "./supports.js";
import "./buy.js";
import "./findings.js";
import "./papers.js";
import { ask, onShown, refresh } from "./sitting.js";
import { begin } from "./steps.js";

const at = id => document.getElementById(id);

onShown(job => {
  at("title").textContent = document.title = job.title ?? "The bench";
  at("undo").disabled = !job.undo;
  at("redo").disabled = !job.redo;
  begin(job.outline?.edges ? "edges" : "photographs");
});
for (const step of ["undo", "redo"]) at(step).addEventListener("click", () => ask(step));
addEventListener("keydown", event => {
  const typing = event.target instanceof HTMLInputElement && event.target.type !== "range";
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || typing) return;
  event.preventDefault();
  ask(event.shiftKey ? "redo" : "undo");
});
refresh();
