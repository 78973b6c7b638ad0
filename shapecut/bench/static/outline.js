// The step of the outline: found in the photographs, looked at over them and from straight above.

import { drawCorners, drawOver } from "./outline_drawing.js";
import { Pane } from "./pane.js";
import { longStep } from "./long_step.js";
import { onShown } from "./sitting.js";
import { brief } from "./steps.js";

const at = id => document.getElementById(id);
const flat = new Pane(at("flat-pane"));
const photo = new Pane(at("photo-pane"));
const which = at("photo-which");
const listeners = { edge: [], corner: [], moved: [], pointed: [] };
let outline = {};

// Tells when an edge or a corner is pointed at, a corner was moved, a photograph is pointed into.
export function onPointed(what, tell) { listeners[what].push(tell); }

function told(what, ...values) { for (const tell of listeners[what]) tell(...values); }

export function photoShown() { return outline.photos?.[Number(which.value)]?.name ?? ""; }

export function drawOverlay(inFlat, inPhoto) {
  flat.layers.overlay.replaceChildren(...inFlat);
  photo.layers.overlay.replaceChildren(...inPhoto);
}

export function markOutlineEdge(...names) {
  for (const path of document.querySelectorAll(".panes [data-line]")) {
    path.classList.toggle("chosen", names.includes(path.dataset.line));
  }
}

function size() {
  const sure = outline.within ? `, known ${outline.within} or better` : "";
  return `${outline.edges.length} edges, ${outline.size}${sure}.`;
}

function summary() {
  if (outline.given) return `${size()} The outline is given in ${outline.given}.`;
  if (outline.edges) return `${size()} Does the line follow the template all round?`;
  if (!outline.photos?.length) return "There are no photographs yet: add them first.";
  return "The template's edge is followed in the photographs. This takes some seconds.";
}

function showPhoto() {
  const number = Number(which.value);
  const view = outline.views?.find(one => one.photo === number);
  const picture = outline.photos?.[number];
  at("photo-pane").hidden = !picture;
  if (!picture) return;
  photo.show({ box: picture.frame, ...view, ...picture });
  drawOver(photo, outline, view, told);
  showFlat(Math.max(0, outline.views?.indexOf(view) ?? 0));
}

function showFlat(number) {
  const view = outline.flats?.[number];
  at("flat-pane").hidden = !view;
  if (!view) return;
  flat.show(view);
  drawOver(flat, outline, view, told);
  drawCorners(flat, outline.corners ?? [], told);
}

function choosePhoto() {
  const names = (outline.photos ?? []).map(one => one.name);
  if ([...which.options].map(one => one.text).join() !== names.join()) {
    which.replaceChildren(...names.map((name, number) => new Option(name, number)));
  }
  which.closest("label").hidden = names.length < 2;
}

// A place is looked at in both views; in a photograph that shows it, if the present one does not.
function lookAt(number) {
  const seen = view => {
    const place = view?.places[number];
    const [x, y, width, height] = outline.photos?.[view?.photo]?.frame ?? [];
    return place && place[0] > x && place[0] < x + width && place[1] > y && place[1] < y + height;
  };
  const now = outline.views?.find(view => view.photo === Number(which.value));
  const view = seen(now) ? now : outline.views?.find(seen);
  if (view) {
    which.value = view.photo;
    showPhoto();
    photo.lookAt(view.places[number]);
  }
  const place = outline.flats?.[0].places[number];
  if (place) flat.lookAt(place);
}

function findingItem(finding, number) {
  const item = document.createElement("li");
  const words = `${finding.where}: ${finding.what} ${finding.todo}`;
  if (!outline.flats[0].places[number]) {
    item.textContent = words;
    return item;
  }
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: finding.level, textContent: words });
  button.addEventListener("click", () => {
    lookAt(number);
    markOutlineEdge(...finding.where.split(/[\s,/]+/));
  });
  item.append(button);
  return item;
}

onPointed("edge", name => markOutlineEdge(name));
photo.onPoint(place => told("pointed", place));
which.addEventListener("change", showPhoto);
const find = longStep("trace", { done: "", stopped: "Cancelled." });

onShown(job => {
  outline = job.outline ?? {};
  at("outline-say").textContent = summary();
  at("outline-wrong").textContent = outline.wrong ?? "";
  at("trace-start").hidden = !outline.untraced || !outline.photos?.length;
  at("outline-legend").hidden = !outline.edges;
  at("outline-onward").hidden = !outline.edges;
  at("outline-enlarged").textContent = outline.enlarged
    ? `The band shows how sure each edge is: ${outline.enlarged} times as wide as it is.` : "";
  choosePhoto();
  showPhoto();
  if (!outline.photos) showFlat(0);
  const found = outline.findings ?? [];
  at("outline-findings").replaceChildren(...found.map(findingItem));
  at("outline-look").hidden = found.length === 0;
  brief("outline", outline.edges ? `${outline.edges.length} edges` : "");
});

// Whoever comes to this step wants the outline.
function findUnasked() {
  const idle = !at("trace-start").hidden && !at("trace-start").disabled;
  if (location.hash === "#outline" && idle && !at("trace-progress").textContent) find();
}

let begun = false;
onShown(() => {
  if (!begun) findUnasked();
  begun = true;
});
addEventListener("hashchange", findUnasked);
