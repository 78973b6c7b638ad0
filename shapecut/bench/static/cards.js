// The reference cards: printing them, and what is stated of those that lie in the photographs.

import { choiceField, hinted, tableFields, textField } from "./fields.js";
import { change, onShown } from "./sitting.js";

const at = id => document.getElementById(id);
const HERE = "here", OTHER = "other";
const KINDS = [[HERE, "printed from this page"], [OTHER, "other square marks"]];
const BARS = [["bar_along", "Check bar along the sheet"], ["bar_across", "Check bar across it"]];
let other = null; // what is chosen of other marks before all of it is

function link() {
  const [size, page, count] =
    ["size", "page", "count"].map(part => encodeURIComponent(at(`cards-${part}`).value));
  at("cards-link").href = `/cards.pdf?size=${size}&page=${page}&count=${count}`;
}
for (const part of ["size", "page", "count"]) at(`cards-${part}`).addEventListener("input", link);
link();

function ownEdits({ dictionary, side }) {
  return [["cards.own", "dictionary", dictionary], ["cards.own", "side", side]];
}

function choose(part, value) {
  other = { ...other, [part]: value };
  if (other.dictionary && other.side) {
    change(...BARS.map(([key]) => ["cards", key, null]), ...ownEdits(other));
  }
}

function chooseKind(kind, stated, show) {
  other = kind === OTHER ? { dictionary: "AprilTag 36h11", side: null } : null;
  if (kind === HERE && stated) change(...ownEdits({ dictionary: null, side: null }));
  else show();
}

function otherFields(job, own) {
  return [
    ...choiceField("own-dictionary", "Kind of mark",
      job.photographs.dictionaries.map(name => [name, name]), own.dictionary,
      value => choose("dictionary", value)),
    ...textField("own-side", "Side of its black square", own.side ?? "",
      value => choose("side", value), "As measured on the print: “100 mm”, “3 15/16 in”."),
  ];
}

function show(job) {
  const stated = job.tables["cards.own"]?.dictionary ? job.tables["cards.own"] : null;
  const own = stated ?? other;
  if (stated) other = { ...stated };
  at("stated-cards").replaceChildren(
    ...hinted(choiceField("cards-kind", "The cards are", KINDS, own ? OTHER : HERE,
      kind => chooseKind(kind, stated, () => show(job))),
      "If cards lie there that are not found, they may come from another print."),
    ...own ? otherFields(job, own) : tableFields(job, "cards", [
      BARS[0],
      [...BARS[1], "Both are 100 mm if the printer is true. Measure them on a printed sheet and "
        + "write what you find: the scale of the print is the scale of everything."],
    ]));
}

let begun = false;
onShown(job => {
  if (!begun && job.tables.papers?.page === "Letter") at("cards-page").value = "Letter";
  begun = true;
  link();
  show(job);
});
