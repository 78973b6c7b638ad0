// The step of the boards: their size, direction, and where the rows start, by dragging too.

import { drawRows, onDrag } from "./drawing.js";
import { choiceField, tableFields, textField } from "./fields.js";
import { attempt, change, onShown } from "./sitting.js";
import { brief } from "./steps.js";

const at = id => document.getElementById(id);
const FIELDS = [["width", "Width"], ["thickness", "Thickness"], ["gap", "Gap"],
  ["smallest_rip", "Narrowest row"]];
const ANGLE = /^[-+]?[\d.]+ *(deg|°)$/;
let job = null;

function showRows(rows) {
  drawRows(rows);
  at("count").textContent = `${rows.rows} rows, ${rows.pieces.length} pieces`;
}

// "37 mm from E2" as its two parts; other starts have no distance.
function taped(start) {
  const [, length, edge] = /^(\S+) mm from (.+)$/.exec(start ?? "") ?? [];
  return length === undefined ? null : { length: Number(length), edge };
}

function startEdge() {
  const start = job.tables.boards.start;
  const edge = taped(start)?.edge ?? start;
  return job.outline.edges.some(one => one.name === edge) ? edge : null;
}

function startAt(length) {
  const pitch = job.rows.pitch;
  const within = ((length % pitch) + pitch) % pitch;
  return ["boards", "start", `${within.toFixed(1)} mm from ${startEdge()}`];
}

function showStart() {
  const start = job.tables.boards.start ?? null;
  const edges = job.outline.edges.map(({ name }) => [name, `full board at ${name}`]);
  const options = [["", "lowest side"], ["balanced", "equal first and last rows"],
    ["best", "fewest narrow or short parts"], ...edges];
  const fields = choiceField("start-rule", "Start", options, taped(start)?.edge ?? start ?? "",
    value => change(["boards", "start", value || null]));
  if (startEdge() && job.rows.pieces) {
    const slide = document.createElement("input");
    Object.assign(slide, { id: "start-at", type: "range", min: 0, max: job.rows.pitch.toFixed(1),
      step: 0.5, value: taped(start)?.length ?? 0 });
    const label = document.createElement("label");
    Object.assign(label, { htmlFor: slide.id, textContent: `First row, from ${startEdge()}` });
    slide.addEventListener("input", () => attempt(startAt(Number(slide.value)), showRows));
    slide.addEventListener("change", () => change(startAt(Number(slide.value))));
    fields.push(label, slide);
  }
  at("start").replaceChildren(...fields);
  at("start-drag").hidden = !(startEdge() && job.rows.pieces);
}

// Along an edge, at an angle, or whichever edge's direction is the cheapest.
function directionFields() {
  const way = job.tables.boards?.direction ?? "0 deg";
  const angled = ANGLE.test(way);
  const options = [...job.outline.edges.map(({ name }) => [`along ${name}`, `along ${name}`]),
    ["best", "the cheapest of all edges'"], ["angle", "at an angle"]];
  const fields = choiceField("boards-way", "Boards run", options, angled ? "angle" : way,
    value => change(["boards", "direction", value === "angle" ? "0 deg" : value]));
  return angled ? [...fields, ...textField("boards-direction", "Angle, from the right", way,
    text => change(["boards", "direction", text]))] : fields;
}

onShown(shown => {
  job = shown;
  if (job.outline?.edges) at("direction").replaceChildren(...directionFields());
  at("board-fields").replaceChildren(...tableFields(job, "boards", FIELDS));
  if (job.outline?.edges) showStart();
  if (job.rows?.pieces) showRows(job.rows);
  at("rows-wrong").textContent = job.outline?.edges ? job.rows?.wrong ?? "" : "";
  brief("boards", job.rows?.pieces ? `${job.rows.rows} rows` : "");
});

// Rows may start at either side: a greater distance from it moves them across the boards, or back.
function dragged(by) {
  const before = taped(job.tables.boards.start)?.length ?? 0;
  return startAt(before + by * job.rows.start_side);
}

onDrag(() => job.rows.across,
  by => { if (startEdge()) attempt(dragged(by), showRows); },
  by => { if (startEdge()) change(dragged(by)); });
