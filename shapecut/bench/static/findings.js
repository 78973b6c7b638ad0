// What is to be looked at: findings about the outline and the rows, each leading to its place.

import { showPlace } from "./drawing.js";
import { choose } from "./edges.js";
import { onShown } from "./sitting.js";

const list = document.getElementById("findings");

function findingItem(finding) {
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
}

// The caution is said at the step itself.
onShown(({ outline, rows, supports }) => {
  const found = [...outline?.findings ?? [], ...rows?.findings ?? [],
    ...supports?.findings?.filter(one => one.what !== supports.caution) ?? []];
  document.getElementById("nothing").hidden = found.length > 0 || !rows?.pieces;
  list.replaceChildren(...found.map(findingItem));
  showPlace(null);
});
