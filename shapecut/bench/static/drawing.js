// The drawing: pieces, edges and the place of a finding, in millimetres with y turned down.

import { made } from "./svg.js";

const plan = document.getElementById("plan");
const layers = Object.fromEntries(["pieces", "supports", "edges", "place"].map(name => {
  const layer = made("g", { class: name });
  plan.append(layer);
  return [name, layer];
}));
let size = 100;

function written(text, [x, y], kind, height) {
  return made("text", { x, y, class: kind, "font-size": height }, text);
}

// Material lies on the left of an edge, so outside is on its right.
function beside({ middle: [x, y], along: [u, v] }, distance) {
  return [x - v * distance, y + u * distance];
}

// Where names stand: outside their edges, or where others are in the way, within them or farther off.
function namePlaces(edges, height) {
  const taken = [];
  return edges.map(edge => {
    const width = 0.7 * height * edge.name.length;
    const isFree = ([x, y]) => taken.every(({ at: [u, v], width: other }) =>
      Math.abs(x - u) > (width + other) / 2 || Math.abs(y - v) > height);
    const places = [1, -1, 2.2, -2.2].map(times => beside(edge, times * height));
    const at = places.find(isFree) ?? places[0];
    taken.push({ at, width });
    return at;
  });
}

export function drawOutline({ box: [x, y, width, height], edges }, choose) {
  size = Math.max(width, height);
  const margin = size * 0.07;
  plan.setAttribute(
    "viewBox", [x - margin, y - margin, width + 2 * margin, height + 2 * margin].join(" "));
  const letter = size * 0.026;
  const places = namePlaces(edges, letter);
  layers.edges.replaceChildren(...edges.flatMap((edge, number) => {
    const reach = made("path", { d: edge.path, class: "reach", "data-edge": edge.name });
    reach.addEventListener("click", () => choose(edge.name));
    return [
      made("path", { d: edge.path, class: `edge ${edge.meets}`, "data-drawn": edge.name }),
      reach,
      written(edge.name, places[number], "name", letter),
    ];
  }));
}

export function drawRows({ pieces }) {
  layers.pieces.replaceChildren(...pieces.flatMap(piece => [
    made("path", { d: piece.path, class: "piece" }),
    written(piece.label, piece.middle, "label", size * 0.018),
  ]));
}

// Joists, blocking and joints; nothing where none are known.
export function drawSupports({ joists, names = [], blocks = [], joints = [] }) {
  layers.supports.replaceChildren(
    ...joists ? [made("path", { d: joists, class: "joist" })] : [],
    ...blocks.map(({ path }) => made("path", { d: path, class: "block" })),
    ...joints.map(([cx, cy]) => made("circle", { cx, cy, r: size * 0.006, class: "joint" })),
    ...names.map(({ name, at }) => written(name, at, "label", size * 0.018)));
}

export function markEdge(name) {
  for (const path of layers.edges.querySelectorAll("[data-drawn]")) {
    path.classList.toggle("chosen", path.dataset.drawn === name);
  }
}

export function showPlace(place) {
  layers.place.replaceChildren(
    ...place ? [made("circle", { cx: place[0], cy: place[1], r: size * 0.035, class: "place" })]
      : []);
}

// Tells how far rows are dragged across the boards, in mm, while and when it is done.
export function onDrag(across, moved, done) {
  let from = null;
  const along = event => {
    const at = new DOMPoint(event.clientX, event.clientY)
      .matrixTransform(plan.getScreenCTM().inverse());
    const [u, v] = across();
    return at.x * u + at.y * v;
  };
  layers.pieces.addEventListener("pointerdown", event => {
    from = along(event);
    layers.pieces.setPointerCapture(event.pointerId);
  });
  layers.pieces.addEventListener("pointermove", event => {
    if (from !== null) moved(along(event) - from);
  });
  layers.pieces.addEventListener("pointerup", event => {
    if (from !== null) done(along(event) - from);
    from = null;
  });
  layers.pieces.addEventListener("pointercancel", () => { from = null; });
}
