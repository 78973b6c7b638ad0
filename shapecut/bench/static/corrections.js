// What the person decides about the outline: corrections, and hints where it was not found.

import { choiceField, field } from "./fields.js";
import { drawOverlay, markOutlineEdge, onPointed, photoShown } from "./outline.js";
import { ask, onShown, tell } from "./sitting.js";
import { made } from "./svg.js";

const at = id => document.getElementById(id);
const what = at("fix-what");
const RELATIONS = ["square to", "parallel to", "in line with", "as long as", "same radius as",
  "same centre as"].map(words => [words, words]);
const HINTS = [["on_template", "a place on the template"], ["on_floor", "a place on the floor"],
  ["box", "a box round the template"]];
let job = null;
let outline = {};
let given = {};

const mm = value => `${Number(value).toFixed(1)} mm`;
const names = () => outline.edges.map(edge => [edge.name, edge.name]);
const cornerNames = () => outline.corners.map(({ name }) => [name, name]);
const endsOf = edge => cornerNames().filter(([name]) => name.split("/").includes(edge));
const cornerOf = name => outline.corners.find(one => one.name === name) ?? outline.corners[0];

function choice(key, words, options) {
  const known = options.some(([value]) => value === given[key]);
  if (!known) given[key] = options[0]?.[0] ?? "";
  return choiceField(`fix-${key}`, words, options, given[key], value => set(key, value));
}

function number(key, words) {
  return field(`fix-${key}`, words, { type: "number", step: "0.5", value: given[key] ?? "" },
    value => set(key, value), "input");
}

function text(key, words) {
  return field(`fix-${key}`, words, { value: given[key] ?? "" }, value => set(key, value));
}

function takeCorner(name) {
  given.corner = name;
  [given.x, given.y] = cornerOf(name).at.map(one => one.toFixed(1));
}

function set(key, value) {
  given[key] = value;
  if (key === "corner") takeCorner(value);
  if (key !== "x" && key !== "y") showFields();
  preview();
}

const FIXES = {
  corner: {
    fields: () => [...choice("corner", "Corner", cornerNames()),
      ...number("x", "To the right, mm"), ...number("y", "Up, mm")],
    done: "Move the corner",
    correction: () => ({ move: given.corner, to: [mm(given.x), mm(given.y)] }),
  },
  one: {
    fields: () => [...choice("edge", "From edge", names()),
      ...choice("last", "To edge", names())],
    done: "They are one edge",
    correction: () => ({ one: [given.edge, given.last] }),
  },
  two: {
    fields: () => [...choice("edge", "Edge", names()),
      ...choice("from", "Counted from corner", endsOf(given.edge)),
      ...number("at", "They meet at, mm")],
    done: "It is two",
    correction: () => ({ two: given.edge, corner: given.from, at: mm(given.at) }),
  },
  shadow: {
    fields: () => {
      const stretch = [...choice("from", "Counted from corner", endsOf(given.edge)),
        ...number("begin", "Begins at, mm"), ...number("end", "Ends at, mm")];
      return [...choice("edge", "Edge", names()),
        ...choice("part", "Of it", [["all", "all"], ["stretch", "a stretch"]]),
        ...given.part === "stretch" ? stretch : []];
    },
    done: "It is a shadow",
    correction: () => ({ shadow: given.edge, ...given.part === "stretch"
      ? { corner: given.from, within: [mm(given.begin), mm(given.end)] } : {} }),
  },
  length: {
    fields: () => [
      ...choice("of", "Between", [...names().map(([name]) => [name, `the ends of ${name}`]),
        ["corners", "two corners"]]),
      ...given.of === "corners" ? [...choice("first", "One corner", cornerNames()),
        ...choice("second", "Other corner", cornerNames())] : [],
      ...text("length", "Length"), ...text("u", "Within ±")],
    done: "It is so long",
    correction: () => ({ length: given.length ?? "", of: given.of === "corners"
      ? [given.first, given.second] : given.of, ...given.u ? { u: given.u } : {} }),
  },
  meant: {
    fields: () => [...choice("edge", "Edge", names()), ...choice("relation", "Is", RELATIONS),
      ...choice("last", "Edge", names())],
    done: "It was meant so",
  },
  hint: {
    fields: () => [...choice("kind", "Show", HINTS),
      ...number("left", "Pixels from the left"), ...number("top", "Pixels from the top"),
      ...given.kind === "box"
        ? [...number("left2", "Other corner, from the left"),
          ...number("top2", "Other corner, from the top")] : []],
    done: "It is there",
  },
};

function showFields() {
  const fix = FIXES[what.value];
  const focused = document.activeElement?.id;
  at("fix-fields").replaceChildren(...fix.fields());
  at("fix-apply").textContent = fix.done;
  at("fix-hint-help").hidden = what.value !== "hint";
  if (focused) at(focused)?.focus();
}

// The places of a hint in the photograph; NaN where none is given yet.
function hinted() {
  return [["left", "top"], ["left2", "top2"]].slice(0, given.kind === "box" ? 2 : 1)
    .map(keys => keys.map(key => given[key] ? Number(given[key]) : NaN));
}

// The stretch of an edge that is called a shadow, as it is drawn from straight above.
function stretchOf() {
  const path = document.querySelector(`#flat-view [data-line="${given.edge}"]`);
  const [x, y] = cornerOf(given.from).at;
  const { x: left, y: top } = path.getPointAtLength(0);
  const whole = path.getTotalLength();
  const backwards = Math.hypot(left - x, top + y) > 1;
  const ends = [given.begin, given.end].map(along => backwards ? whole - along : Number(along));
  if (!ends.every(Number.isFinite)) return null;
  return Array.from({ length: 21 }, (_, step) => {
    const at = path.getPointAtLength(ends[0] + (ends[1] - ends[0]) * step / 20);
    return `${at.x},${at.y}`;
  }).join(" ");
}

// What would come of it, as far as it can be drawn at once.
function preview() {
  if (what.value === "corner" && outline.corners) {
    const { name, beside: [[u, v], [s, t]] } = cornerOf(given.corner);
    markOutlineEdge(...name.split("/"));
    const points = `${u},${-v} ${given.x},${-given.y} ${s},${-t}`;
    drawOverlay([made("polyline", { points, class: "wish" }),
      made("circle", { cx: given.x, cy: -given.y, class: "wish-end" })], []);
  } else if (what.value === "hint") {
    drawOverlay([], hinted().filter(place => place.every(Number.isFinite))
      .map(([cx, cy]) => made("circle", { cx, cy, class: "wish-end" })));
  } else {
    const stretch = what.value === "shadow" && given.part === "stretch" && stretchOf();
    drawOverlay(stretch ? [made("polyline", { points: stretch, class: "wish" })] : [], []);
    markOutlineEdge(...["one", "meant"].includes(what.value) ? [given.edge, given.last]
      : [what.value === "length" ? given.of : given.edge]);
  }
}

function start() {
  if (what.value === "corner" && outline.corners) takeCorner(cornerOf(given.corner).name);
  showFields();
  if (at("fix").contains(document.activeElement)) preview();
  else drawOverlay([], []);
}

// What is stated in the file under [template], as texts.
const regular = () => job.tables.template?.regular ?? [];

function apply() {
  if (what.value === "meant") {
    return ask("mean", { regular: [...regular(), `${given.edge} ${given.relation} ${given.last}`] });
  }
  if (what.value !== "hint") return ask("correct", { correction: FIXES[what.value].correction() });
  const places = hinted();
  if (!places.flat().every(Number.isFinite)) {
    return tell(new Error(given.kind === "box"
      ? "Point at two opposite corners of the box in the photograph first."
      : "Point at the place in the photograph first."));
  }
  return ask("hint", { kind: given.kind, photo: photoShown(),
    places: given.kind === "box" ? places : places[0] });
}

function decision(words, takeBack) {
  const item = document.createElement("li");
  const button = document.createElement("button");
  Object.assign(button, { type: "button", textContent: "Take back" });
  button.setAttribute("aria-label", `Take back: ${words}`);
  button.addEventListener("click", takeBack);
  item.append(words, button);
  return item;
}

function showDecisions() {
  const corrections = (outline.corrections ?? []).map(({ words }, number) =>
    decision(words, () => ask("uncorrect", { number })));
  const hints = (outline.hints ?? []).map(({ kind, photo }) =>
    decision(`${HINTS.find(([one]) => one === kind)[1]}, shown in ${photo}`,
      () => ask("hint", { kind, photo, places: null })));
  const meant = (outline.regular ?? []).map(({ words }, number) =>
    decision(words, () => ask("mean", { regular: regular().toSpliced(number, 1) })));
  const all = [...corrections, ...meant, ...hints];
  at("decided").replaceChildren(...all);
  at("decided-part").hidden = all.length === 0;
}

what.addEventListener("change", start);
at("fix").addEventListener("submit", event => {
  event.preventDefault();
  apply();
});
onPointed("edge", name => {
  if (what.value === "hint" || what.value === "corner") return;
  set(what.value === "length" ? "of" : "edge", name);
});
onPointed("corner", ({ name }, [x, y]) => {
  what.value = "corner";
  Object.assign(given, { corner: name, x: x.toFixed(1), y: y.toFixed(1) });
  showFields();
  preview();
});
onPointed("moved", ({ name }, to) => ask("correct", { correction: { move: name, to: to.map(mm) } }));
onPointed("pointed", ([x, y]) => {
  if (what.value !== "hint") return;
  const second = given.kind === "box" && given.left && !given.left2;
  const [across, down] = second ? ["left2", "top2"] : ["left", "top"];
  Object.assign(given, second ? {} : { left2: "", top2: "" },
    { [across]: x.toFixed(0), [down]: y.toFixed(0) });
  showFields();
  preview();
});

onShown(shown => {
  job = shown;
  outline = job.outline ?? {};
  const sought = outline.hints?.length || job.progress?.trace.state === "failed";
  at("fix").hidden = Boolean(outline.given) || !(outline.corners || sought);
  at("fix-help").hidden = !outline.corners;
  for (const option of what.options) option.disabled = option.value !== "hint" && !outline.corners;
  if (!outline.corners) what.value = "hint";
  else if (!at("fix").dataset.begun) what.value = "corner";
  if (outline.corners) at("fix").dataset.begun = "yes";
  if (!at("fix").hidden) start();
  showDecisions();
});
