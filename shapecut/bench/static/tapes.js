// Distances taped between two cards: typed in, and taken back.

import { ask, onShown } from "./sitting.js";

const form = document.getElementById("tape-form");
let shown = null; // for which cards the form is made: it stays while something is typed
const list = document.getElementById("tape-list");

function labelled(words, field) {
  const label = document.createElement("label");
  label.append(`${words} `, field);
  return label;
}

function cardChoice(id, cards, chosen) {
  const field = document.createElement("select");
  field.id = id;
  field.append(...cards.map(card => new Option(card, card, false, card === chosen)));
  return field;
}

function showForm(cards, [start, end]) {
  const length = document.createElement("input");
  Object.assign(length, { id: "tape-length", required: true, autocomplete: "off" });
  const add = document.createElement("button");
  Object.assign(add, { id: "tape-add", textContent: "Use this distance" });
  form.replaceChildren(
    labelled("From", cardChoice("tape-start", cards, start)),
    labelled("to", cardChoice("tape-end", cards, end)),
    labelled("Distance, with its unit", length), add);
}

form.addEventListener("submit", event => {
  event.preventDefault();
  const [start, end, length] =
    ["start", "end", "length"].map(part => document.getElementById(`tape-${part}`).value.trim());
  ask("tape", { start, end, length });
  document.getElementById("tape-length").value = "";
});

onShown(({ photographs: { check, tapes } }) => {
  const marks = (check?.photos ?? []).flatMap(photo => photo.marks);
  const cards = [...new Set(marks.map(([card]) => card))].sort(
    new Intl.Collator("en", { numeric: true }).compare);
  form.hidden = cards.length < 2;
  document.getElementById("tapes").hidden = cards.length < 2 && !tapes.length;
  const offered = JSON.stringify([cards, check?.tape]);
  if (offered !== shown) showForm(cards, check?.tape ?? [cards[0], cards.at(-1)]);
  shown = offered;
  list.replaceChildren(...tapes.map(({ between, length }, number) => {
    const [start, end] = between;
    const words = `${start} – ${end}: ${length}`;
    const item = document.createElement("li");
    const remove = document.createElement("button");
    Object.assign(remove, { type: "button", id: `untape-${number}`, textContent: "Remove" });
    remove.setAttribute("aria-label", `Remove ${words}`);
    remove.addEventListener("click", () => ask("untape", { start, end }));
    item.append(words, remove);
    return item;
  }));
});
