// The step of the photographs: which cards each shows, and what would make the measure surer.

import "./cards.js";
import "./tapes.js";
import "./template.js";
import "./uploads.js";
import { longStep } from "./long_step.js";
import { ask, onShown } from "./sitting.js";
import { brief } from "./steps.js";
import { made } from "./svg.js";

const at = id => document.getElementById(id);
const check = longStep("check", { done: "", stopped: "Cancelled." });
let shown = null;
let first = true;
let begun = null; // the state of photographs and cards for which a check was begun by itself

// Each card's name once, below its marks.
function names(marks, size) {
  const corners = new Map();
  for (const [card, places] of marks) {
    corners.set(card, [...corners.get(card) ?? [], ...places]);
  }
  return [...corners].map(([card, places]) => {
    const [left, right] = [Math.min, Math.max].map(end => end(...places.map(([x]) => x)));
    const low = Math.max(...places.map(([, y]) => y));
    return made("text", { x: (left + right) / 2, y: low + size, class: "mark-name",
      "font-size": size }, card);
  });
}

function picture(photo, seen, name) {
  const [x, y, width, height] = photo.frame;
  const drawn = made("svg", { viewBox: photo.frame.join(" "), role: "img",
    "aria-label": `${name}: ${seen?.words ?? "not looked at yet"}` });
  const marks = seen?.marks ?? [];
  drawn.append(
    made("image", { href: photo.picture, x, y, width, height }),
    ...marks.map(([, places]) => made("polygon", { points: places.join(" "), class: "mark" })),
    ...names(marks, Math.min(width, height) * 0.04));
  return drawn;
}

function photoItem(name, number, photo, seen) {
  const item = document.createElement("li");
  const words = document.createElement("p");
  words.textContent = `${name}: ${seen?.words ?? "not looked at yet"}`;
  item.classList.toggle("none-seen", seen?.good === false);
  const remove = document.createElement("button");
  Object.assign(remove, { type: "button", id: `remove-${number}`, textContent: `Remove ${name}` });
  remove.addEventListener("click", () => ask("remove-photo", { photo: name }));
  const buttons = document.createElement("p");
  buttons.append(remove);
  item.append(...photo ? [picture(photo, seen, name)] : [], words, buttons);
  return item;
}

function finding({ where, what, todo }) {
  const item = document.createElement("li");
  item.textContent = `${where}: ${what} ${todo}`;
  return item;
}

function showCheck(done) {
  const verdict = at("verdict");
  const words = !done ? "" : done.wrong ? done.wrong :
    done.measurable ? "Fit to measure by." : "Not fit to measure by.";
  if (verdict.textContent !== words) verdict.textContent = words; // it is read out when it changes
  verdict.classList.toggle("good", Boolean(done?.measurable));
  verdict.classList.toggle("wrong", Boolean(done && !done.measurable));
  at("outlook").replaceChildren(...(done?.outlook ?? []).map(words => {
    const item = document.createElement("li");
    item.textContent = words[0].toUpperCase() + words.slice(1);
    return item;
  }));
  at("photo-findings").replaceChildren(...(done?.findings ?? []).map(finding));
}

function state({ names: { length }, check: done }) {
  if (!length) return "none yet";
  const count = length === 1 ? "1" : `${length}`;
  return !done ? count : done.measurable ? `${count}, cards found` : `${count}, see what is amiss`;
}

onShown(job => {
  const step = job.photographs;
  if (!step) return;
  at("photos-given").hidden = !step.given;
  at("photos-given").textContent = `This job's outline comes from ${step.given}; ${
    step.fixed ? "there is nothing to photograph." : "photographs would take its place."}`;
  const count = step.names.length;
  at("photos-part").hidden = step.fixed;
  at("stated").hidden = Boolean(step.given);
  const photos = job.outline?.photos ?? [];
  const drawn = JSON.stringify([step.names, photos, step.check?.photos]);
  if (drawn !== shown) { // else the pictures would be fetched again
    shown = drawn;
    at("photo-list").replaceChildren(...step.names.map((name, number) =>
      photoItem(name, number, photos[number], step.check?.photos[number])));
  }
  at("check-part").hidden = count === 0;
  at("check-start").hidden = Boolean(step.check);
  at("photos-onward").hidden = count === 0 && !step.given;
  if (first) at("print-cards").open = count === 0 && !step.given;
  first = false;
  showCheck(step.check);
  brief("photographs", step.given ? "" : state(step));
  if (step.unchecked && begun !== step.unchecked) {
    begun = step.unchecked;
    check();
  }
});
