// Photographs on their way to the job: dropped, chosen or taken, one after the other.

import { send } from "./talk.js";
import { onShown, refresh } from "./sitting.js";

const at = id => document.getElementById(id);
let largest = Infinity;
let queue = Promise.resolve();
let waiting = 0;

function say() {
  at("sending").textContent = waiting === 0 ? "" :
    waiting === 1 ? "Taking a photograph up …" : `Taking ${waiting} photographs up …`;
}

function refuse(file, words) {
  const item = document.createElement("li");
  item.textContent = `${file.name} was not taken up. ${words}`;
  at("refused").append(item);
}

async function take(file) {
  try {
    if (file.size > largest) throw new Error(`It is larger than ${largest / 2 ** 20} MB.`);
    await send("/photograph", file);
  } catch (error) { refuse(file, error.message); }
  waiting -= 1;
  say();
}

function add(files) {
  at("refused").replaceChildren();
  at("print-cards").open = false;
  waiting += files.length;
  say();
  for (const file of files) queue = queue.then(() => take(file));
  queue = queue.then(refresh);
}

onShown(({ photographs }) => { largest = photographs.largest; });
for (const id of ["choose-photos", "take-photo-file"]) {
  at(id).addEventListener("change", event => {
    add([...event.target.files]);
    event.target.value = "";
  });
}

// Anywhere on the page, so that a photograph that misses the frame does not replace the page.
const drop = at("drop");
const here = () => !drop.closest("section").hidden;
addEventListener("dragover", event => {
  event.preventDefault();
  drop.classList.toggle("over", here());
});
addEventListener("dragleave", event => {
  if (event.relatedTarget === null) drop.classList.remove("over");
});
addEventListener("drop", event => {
  event.preventDefault();
  drop.classList.remove("over");
  if (here()) add([...event.dataTransfer.files]);
});
