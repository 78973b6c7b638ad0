// The step of the papers: made, then saved one by one or all together.

import { longStep } from "./long_step.js";
import { onShown } from "./sitting.js";
import { brief } from "./steps.js";

const at = id => document.getElementById(id);
// What a file is for, by its name; the first that fits.
const KINDS = [
  ["To read first", /^report\.html$/],
  ["For the saw", /\.pdf$/],
  ["For a machine, or a drawing program", /^[^/]+\.dxf$/],
  ["For a machine, piece by piece", /\.dxf$/],
  ["Lists", /\.(csv|toml)$/],
  ["Pictures", /\.(jpg|svg)$/],
  ["For other programs", /./],
];

function paper(name, address) {
  const item = document.createElement("li");
  const link = document.createElement("a");
  Object.assign(link, { href: address, textContent: name, download: "" });
  item.append(link);
  return item;
}

function group(words, papers) {
  const part = document.createElement("section");
  const head = document.createElement("h3");
  head.textContent = words;
  const list = document.createElement("ul");
  list.append(...papers.map(([name, number]) => paper(name, `/paper/${number}`)));
  part.append(head, list);
  return part;
}

function groups(names) {
  const numbered = names.map((name, number) => [name, number]);
  const kindOf = ([name]) => KINDS.find(([, fits]) => fits.test(name))[0];
  const found = Map.groupBy(numbered, kindOf);
  return KINDS.filter(([words]) => found.has(words))
    .map(([words]) => group(words, found.get(words)));
}

longStep("make", { done: "Made.", stopped: "Cancelled: the former papers are as they were." });
onShown(({ papers, outline }) => {
  const names = papers?.names ?? [];
  const changed = papers?.changed ?? "";
  at("papers-changed").textContent = changed
    ? `Out of date: ${changed} changed since these were made. Make them anew before anything is cut.`
    : "";
  at("make-start").textContent = names.length ? "Make the papers anew" : "Make the papers";
  at("papers-none").hidden = Boolean(outline?.edges);
  at("papers-all").hidden = names.length === 0;
  at("paper-list").replaceChildren(...groups(names));
  brief("papers", names.length ? changed ? "out of date" : `${names.length} files` : "");
});
