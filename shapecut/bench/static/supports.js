// The step of the supports: joists, blocking where nothing carries, and joints over joists.

import { drawSupports } from "./drawing.js";
import { choiceField, field, tableFields } from "./fields.js";
import { change, onShown } from "./sitting.js";
import { brief } from "./steps.js";

const at = id => document.getElementById(id);
const FIRST_SPACING = { mm: "400 mm", in: "16 in" };
const FIRST_OFFSET = { mm: "600 mm", in: "24 in" };
const PATTERNS = [["free", "any joist"], ["every second joist", "every second joist"],
  ["every third joist", "every third joist"]];
let job = null;

const inUnits = lengths => lengths[job.tables.papers?.units ?? "mm"];

function known() {
  if (job.tables.joists?.spacing) return "spaced";
  if (job.tables.joists?.lines) return "listed";
  return job.supports?.joists ? "drawn" : "unknown";
}

// Joists are evenly spaced or listed: what says it the one way takes the place of the other.
function know(how) {
  const spaced = how === "spaced" ? job.tables.joists?.spacing ?? inUnits(FIRST_SPACING) : null;
  const listed = how === "listed" ? [job.tables.joists?.first ?? "0 mm"] : null;
  const others = how === "unknown"
    ? ["first", "measured_from", "direction", "width", "longest_spacing", "material"] : ["first"];
  const edits = [["spacing", spaced], ["lines", listed],
    ...(how === "spaced" ? [] : others.map(key => [key, null]))];
  change(...edits.map(([key, value]) => ["joists", key, value]));
}

function joistFields() {
  const how = known();
  const ways = [["unknown", "not known"], ["spaced", "evenly spaced"], ["listed", "each by itself"],
    ...how === "drawn" ? [["drawn", "drawn on the template"]] : []];
  const fields = choiceField("joists-how", "Joists", ways, how, know);
  if (how === "unknown") return fields;
  if (how === "spaced") {
    fields.push(...tableFields(job, "joists", [["spacing", "From middle to middle"],
      ["first", "Middle of the first"]]));
  }
  if (how === "listed") {
    fields.push(...field("joists-lines", "Middles, with commas",
      { value: job.tables.joists.lines.join(", ") },
      text => change(["joists", "lines", text.split(",").map(one => one.trim())])));
  }
  const edges = (job.outline?.edges ?? []).map(({ name }) => [name, name]);
  if (how !== "drawn") {
    fields.push(...choiceField("joists-measured_from", "Counted from",
      [["", "the drawing's corner"], ...edges], job.tables.joists.measured_from ?? "",
      edge => change(["joists", "measured_from", edge || null])));
    fields.push(...choiceField("joists-direction", "They run",
      [["", "across the boards"], ...edges.map(([name]) => [`along ${name}`, `along ${name}`])],
      job.tables.joists.direction ?? "",
      way => change(["joists", "direction", way || null])));
  }
  fields.push(...tableFields(job, "joists", [["width", "Width of a joist"],
    ["longest_spacing", "Boards may span"]]));
  return fields;
}

function jointFields() {
  const joined = Object.keys(job.tables.joints ?? {}).length > 0;
  const keys = ["offset", "shortest", "gap", "pattern"];
  const fields = choiceField("joints-how", "They are",
    [["no", "not joined"], ["yes", "joined over joists"]], joined ? "yes" : "no",
    how => change(...how === "yes" ? [["joints", "offset", inUnits(FIRST_OFFSET)]]
      : keys.map(key => ["joints", key, null])));
  if (!joined) return fields;
  return [...fields,
    ...tableFields(job, "joints", [["offset", "Apart from row to row"],
      ["shortest", "Shortest piece"], ["gap", "Gap between ends"]]),
    ...choiceField("joints-pattern", "Over", PATTERNS, job.tables.joints.pattern ?? "free",
      pattern => change(["joints", "pattern", pattern]))];
}

function summary({ count, longest_span: span, longest_spacing: limit, joints, source }) {
  if (!count) return "";
  const parts = [`${count} joists`, joints.length ? `${joints.length} joints over them` : "",
    span ? `boards span up to ${span}, measured along them` : ""];
  const stated = job.tables.joists?.longest_spacing ? "as you state" : `by ${source}`;
  const held = limit ? `Joists may be ${limit} apart, ${stated}.`
    : "How far apart joists may be is the boards' maker's to say.";
  return `${parts.filter(Boolean).join(", ")}. ${held}`;
}

// Blocks of one length between the same joists are one line.
function blockLines(blocks) {
  const alike = Map.groupBy(blocks, ({ between, length }) => `${between} ${length}`);
  return [...alike.values()].map(group => {
    const [{ between, length }] = group;
    const where = between.length > 1 ? `between ${between.join(" and ")}` : `at ${between[0]}`;
    const labels = new Set(group.flatMap(({ carries }) => carries));
    const item = document.createElement("li");
    item.textContent = `${group.length} × ${length} ${where}, under ${[...labels].join(", ")}`;
    return item;
  });
}

onShown(shown => {
  job = shown;
  const supports = job.supports ?? {};
  at("joist-fields").replaceChildren(...joistFields());
  at("joint-fields").replaceChildren(...jointFields());
  at("supports-say").textContent = summary(supports);
  at("supports-wrong").textContent = job.outline?.edges && !job.rows?.wrong ? supports.wrong ?? ""
    : "";
  at("supports-caution").textContent = supports.caution ?? "";
  at("blocks-part").hidden = !supports.blocks?.length;
  at("blocks").replaceChildren(...blockLines(supports.blocks ?? []));
  drawSupports(supports);
  brief("supports", supports.count ? `${supports.count} joists` : "");
});
