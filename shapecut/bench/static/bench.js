// The page: shows the job, and sends what is decided.

import { drawOutline, drawRows, markEdge, onDrag, showPlace } from "./drawing.js";
import { choiceField, textField } from "./fields.js";
import { listenForPapers, showPapers } from "./papers.js";
import { call, read } from "./talk.js";

const at = id => document.getElementById(id);
const MEETS = [
  ["wall", "wall: gap"], ["covered", "covered"], ["exposed", "exposed"],
  ["overhang", "overhang"], ["butt", "another board"],
];
const TEXTS = {
  boards: [["width", "Width"], ["thickness", "Thickness"], ["gap", "Gap"],
    ["direction", "Direction"], ["smallest_rip", "Narrowest row"]],
  joists: [["spacing", "Joist spacing"], ["first", "First joist at"], ["measured_from", "From edge"],
    ["width", "Joist width"]],
  joints: [["offset", "Between joints"], ["gap", "Gap at joints"]],
};
let job = null;
let trying = false;
let next = null;

function tell(error) { at("wrong").textContent = error.message; }

// One after the other: the answer to a former change must not be shown over that to a later one.
let asked = Promise.resolve();

function inTurn(name, values) {
  asked = asked.then(() => call(name, values)).then(show).catch(error => {
    show(job);
    tell(error);
  });
}

function change(...edits) { inTurn("change", { edits }); }

// Rows as they would be; of several wishes while one is tried, only the last is tried next.
async function attempt(edit) {
  next = edit;
  if (trying) return;
  trying = true;
  while (next) {
    const edits = [next];
    next = null;
    try {
      showRows((await call("try", { edits })).laid);
      at("wrong").textContent = "";
    } catch (error) { tell(error); }
  }
  trying = false;
}

function keepFocus(render) {
  const id = document.activeElement?.id;
  render();
  if (id) at(id)?.focus();
}

function showRows(laid) {
  drawRows(laid);
  at("count").textContent = `${laid.rows} rows, ${laid.pieces.length} pieces`;
}

function choose(name) {
  markEdge(name);
  for (const row of at("edges").children) row.classList.toggle("chosen", row.dataset.edge === name);
}

function showEdges({ edges }) {
  at("edges").replaceChildren(...edges.map(edge => {
    const row = document.createElement("div");
    row.dataset.edge = edge.name;
    const sure = edge.u === null ? "" : ` ± ${(2 * edge.u).toFixed(1)}`;
    row.append(...choiceField(
      `edge-${edge.name}`, `${edge.name}, ${edge.length.toFixed(0)}${sure} mm`, MEETS, edge.meets,
      value => change(["edges", edge.name, value])));
    row.addEventListener("focusin", () => choose(edge.name));
    return row;
  }));
}

function showFields(place, ...tables) {
  at(place).replaceChildren(...tables.flatMap(table => TEXTS[table].flatMap(([key, words]) =>
    textField(`${table}-${key}`, words, job.tables[table]?.[key] ?? "",
      value => change([table, key, value])))));
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
  const pitch = job.laid.pitch;
  const within = ((length % pitch) + pitch) % pitch;
  return ["boards", "start", `${within.toFixed(1)} mm from ${startEdge()}`];
}

function showStart() {
  const start = job.tables.boards?.start ?? null;
  const edges = job.outline.edges.map(({ name }) => [name, `full board at ${name}`]);
  const options = [["", "lowest side"], ["balanced", "equal first and last rows"],
    ["best", "fewest narrow or short parts"], ...edges];
  const fields = choiceField("start-rule", "Start", options, taped(start)?.edge ?? start ?? "",
    value => change(["boards", "start", value || null]));
  if (startEdge() && job.laid) {
    const slide = document.createElement("input");
    Object.assign(slide, { id: "start-at", type: "range", min: 0, max: job.laid.pitch.toFixed(1),
      step: 0.5, value: taped(start)?.length ?? 0 });
    const label = document.createElement("label");
    Object.assign(label, { htmlFor: slide.id, textContent: `First row, from ${startEdge()}` });
    slide.addEventListener("input", () => attempt(startAt(Number(slide.value))));
    slide.addEventListener("change", () => change(startAt(Number(slide.value))));
    fields.push(label, slide);
  }
  at("start").replaceChildren(...fields);
}

function showFindings() {
  const found = [...job.of_outline ?? [], ...job.laid?.findings ?? []];
  at("nothing").hidden = found.length > 0 || !job.laid;
  at("findings").replaceChildren(...found.map(finding => {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = `${finding.where}: ${finding.what} ${finding.todo}`;
    button.addEventListener("click", () => {
      showPlace(finding.place);
      choose(finding.where.replace(/^edge /, ""));
    });
    item.append(button);
    return item;
  }));
}

function show(shown) {
  job = shown;
  keepFocus(() => {
    at("title").textContent = document.title = job.title ?? "The bench";
    at("wrong").textContent = job.wrong ?? "";
    at("undo").disabled = !job.undo;
    at("redo").disabled = !job.redo;
    if (job.outline) {
      drawOutline(job.outline, name => at(`edge-${name}`).focus());
      showEdges(job.outline);
      showStart();
    }
    showFields("boards", "boards");
    showFields("joists", "joists", "joints");
    if (job.laid) showRows(job.laid);
    showFindings();
    showPlace(null);
    showPapers(job);
  });
}

for (const step of ["undo", "redo"]) {
  at(step).addEventListener("click", () => inTurn(step));
}
addEventListener("keydown", event => {
  const typing = event.target instanceof HTMLInputElement && event.target.type !== "range";
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || typing) return;
  event.preventDefault();
  inTurn(event.shiftKey ? "redo" : "undo");
});
// Rows may start at either side: a greater distance from it moves them across the boards, or back.
function dragged(by) {
  const before = taped(job.tables.boards.start)?.length ?? 0;
  return startAt(before + by * job.laid.start_side);
}
onDrag(() => job.laid.across,
  by => { if (startEdge()) attempt(dragged(by)); },
  by => { if (startEdge()) change(dragged(by)); });
listenForPapers(tell);
read("job").then(show).catch(tell);
