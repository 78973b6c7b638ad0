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
import { ask, onAnything, onShown, refresh, watch } from "./sitting.js";
import { begin } from "./steps.js";

const at = id => document.getElementById(id);

onAnything(job => {
  const words = job.title ?? (job.beginning ? "A new job" : "The bench");
  at("title").textContent = document.title = words;
  document.body.classList.toggle("no-job", !job.title);
  at("mend").hidden = Boolean(job.title || job.beginning);
  at("undo").parentElement.hidden = Boolean(job.beginning);
  at("undo").disabled = !job.undo;
  at("redo").disabled = !job.redo;
});
onShown(job => {
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
watch();
