// What is stated of the template: its thickness, where the cards lay, and what the outline follows.

import { choiceField, tableFields } from "./fields.js";
import { change, onShown } from "./sitting.js";

const fields = document.getElementById("template-fields");
const DRAWN = [["silhouette", "a template that was cut out"], ["line", "a closed line on paper"],
  ["opening", "the opening in a frame"]];
const LAY = [["floor", "on the floor beside it"], ["template", "on the template"]];
const SIDES = [["", "its middle"], ["inner", "its inner side"], ["outer", "its outer side"]];

function show({ tables }) {
  const stated = tables.template ?? {};
  const drawn = stated.drawn ?? "silhouette";
  return [
    ...choiceField("template-drawn", "The photographs show", DRAWN, drawn, value => change(
      ["template", "drawn", value === "silhouette" ? null : value],
      ...value === "line" ? [] : [["template", "line_side", null]],
      ...value === "opening" ? [["template", "thickness", null]] : [])),
    ...drawn === "line" ? choiceField("template-line_side", "The outline is", SIDES,
      stated.line_side ?? "", value => change(["template", "line_side", value || null])) : [],
    ...drawn === "opening" ? [] : tableFields({ tables }, "template", [["thickness", "Thickness",
      "Of the template: half a millimetre matters, since its face lies so much nearer to the "
      + "camera than the cards. Measure a stack of scraps and divide. Paper is “0 mm”."]]),
    ...choiceField("template-cards_on", "The cards lay", LAY, stated.cards_on ?? "floor",
      value => change(["template", "cards_on", value])),
  ];
}

onShown(job => { if (job.tables) fields.replaceChildren(...show(job)); });
