// The step of the papers: made, then saved one by one or all together.

import { longStep } from "./long_step.js";
import { onShown } from "./sitting.js";
import { brief } from "./steps.js";

const list = document.getElementById("paper-list");

function paper(name, address) {
  const item = document.createElement("li");
  const link = document.createElement("a");
  Object.assign(link, { href: address, textContent: name, download: "" });
  item.append(link);
  return item;
}

longStep("make", { done: "Made.", stopped: "Cancelled: the former papers are as they were." });
onShown(({ papers }) => {
  const names = papers?.names ?? [];
  list.replaceChildren(
    ...names.length ? [paper("all of them (papers.zip)", "/papers.zip")] : [],
    ...names.map((name, number) => paper(name, `/paper/${number}`)));
  brief("papers", names.length ? `${names.length} files` : "");
});
