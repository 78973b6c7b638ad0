// The outline over a picture: bands, lines, names, numbered places, and corners to drag.

import { SLIP } from "./pane.js";
import { made } from "./svg.js";

function kindOf(name, { by_hand: byHand, doubtful }) {
  if (byHand?.includes(name)) return "by-hand";
  return doubtful?.includes(name) ? "doubtful" : "measured";
}

// `told` hears of edges that are pointed at.
export function drawOver(pane, outline, view, told) {
  const edges = view?.edges ?? [];
  const places = view?.places ?? [];
  pane.layers.bands.replaceChildren(
    ...edges.filter(edge => edge.band).map(edge => made("path", { d: edge.band, class: "band" })));
  pane.layers.lines.replaceChildren(...edges.flatMap(({ name, path }) => {
    const reach = made("path", { d: path, class: "reach", "data-held": name });
    reach.addEventListener("click", () => told("edge", name));
    return [
      made("path", { d: path, class: "rim" }),
      made("path", { d: path, class: `line ${kindOf(name, outline)}`, "data-line": name }),
      reach,
    ];
  }));
  pane.layers.marks.replaceChildren(
    ...edges.map(({ name, middle: [x, y] }) => made("text", { x, y, class: "called" }, name)),
    ...places.flatMap((place, number) => place ? numbered(place, number + 1) : []));
}

function numbered([x, y], number) {
  return [
    made("circle", { cx: x, cy: y, class: "spot" }),
    made("text", { x, y, class: "number" }, number),
  ];
}

// Corners are drawn where the plane has them, y down; `told` hears of those pointed at or moved.
export function drawCorners(pane, corners, told) {
  pane.layers.marks.append(...corners.flatMap(corner => {
    const [x, y] = corner.at;
    const handle = made("circle", { cx: x, cy: -y, class: "hold", "data-held": corner.name });
    let from = null;
    handle.addEventListener("pointerdown", event => {
      from = event;
      handle.setPointerCapture(event.pointerId);
    });
    handle.addEventListener("pointermove", event => {
      if (!from) return;
      const [right, down] = pane.at(event);
      told("corner", corner, [right, -down]);
    });
    handle.addEventListener("pointerup", event => {
      const slipped = Math.hypot(event.clientX - from.clientX, event.clientY - from.clientY);
      const [right, down] = pane.at(event);
      from = null;
      if (slipped > SLIP) told("moved", corner, [right, -down]);
      else told("corner", corner, corner.at);
    });
    handle.addEventListener("pointercancel", () => { from = null; });
    return [made("circle", { cx: x, cy: -y, class: "corner" }), handle];
  }));
}
