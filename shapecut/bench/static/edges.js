// The step of the edges: what the boards meet at each, by pointing or by choosing.

import { drawOutline, markEdge } from "./drawing.js";
import { choiceField } from "./fields.js";
import { change, onShown } from "./sitting.js";

const list = document.getElementById("edge-choices");
const MEETS = [
  ["wall", "wall: gap"], ["covered", "covered"], ["exposed", "exposed"],
  ["overhang", "overhang"], ["butt", "another board"],
];

export function choose(name) {
  markEdge(name);
  for (const row of list.children) row.classList.toggle("chosen", row.dataset.edge === name);
}

function edgeRow(edge) {
  const row = document.createElement("div");
  row.dataset.edge = edge.name;
  row.append(...choiceField(
    `edge-${edge.name}`, `${edge.name}, ${edge.length} ${edge.within}`, MEETS, edge.meets,
    value => change(["edges", edge.name, value])));
  row.addEventListener("focusin", () => choose(edge.name));
  return row;
}

onShown(({ outline }) => {
  const edges = outline?.edges ?? [];
  list.replaceChildren(...edges.map(edgeRow));
  document.getElementById("no-edges").hidden = edges.length > 0;
  if (edges.length) {
    drawOutline(outline, name => document.getElementById(`edge-${name}`).focus());
  }
});
