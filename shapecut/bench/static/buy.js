// The step of buying: what the yard sells, what to buy of it, and each board with its cuts.

import { field } from "./fields.js";
import { longStep } from "./long_step.js";
import { ask, onShown } from "./sitting.js";
import { brief } from "./steps.js";
import { made } from "./svg.js";
import { table } from "./tables.js";

const at = id => document.getElementById(id);
const start = longStep("plan", { done: "", stopped: "Cancelled." });
let buy = { sold: [] };
let adding = false;

// A label and its field, on one line.
function pair(elements) {
  const span = document.createElement("span");
  span.className = "pair";
  span.append(...elements);
  return span;
}

function soldRow({ length, price }, number, count, currency) {
  const row = document.createElement("div");
  const write = values => {
    adding = false;
    ask("sold", { number, length, price: price || null, ...values });
  };
  row.append(pair(field(`sold-length-${number}`, `Length ${number + 1}`, { value: length },
    text => { if (text) write({ length: text }); })));
  if (number < count) {
    const gone = document.createElement("button");
    Object.assign(gone, { type: "button", textContent: "Remove", disabled: count < 2 });
    gone.setAttribute("aria-label", `Remove length ${number + 1}`);
    gone.addEventListener("click", () => write({ length: null }));
    row.append(pair(field(`sold-price-${number}`, `Price${currency ? `, ${currency}` : ""}`,
      { value: price, inputMode: "decimal" }, text => write({ price: text || null }))), gone);
  }
  return row;
}

function showSold({ sold, currency }) {
  const rows = adding ? [...sold, { length: "", price: "" }] : sold;
  at("sold").replaceChildren(...rows.map((one, number) =>
    soldRow(one, number, sold.length, currency)));
}

function drawnBoard(board, { longest, width }) {
  const item = document.createElement("li");
  const name = document.createElement("p");
  name.textContent = board.name;
  const margin = width / 10;
  const svg = made("svg", { class: "cut-board", role: "img", "aria-label": board.name,
    viewBox: [-margin, -width - margin, longest + 2 * margin, width + 2 * margin].join(" ") });
  svg.append(
    ...board.paths.map(({ layer, path }) => made("path", { d: path, class: `sawn ${layer}` })),
    ...board.labels.map(({ text, at: [x, y], height }) =>
      made("text", { x, y, class: "label", "font-size": height * 1.4 }, text)));
  const steps = document.createElement("ol");
  steps.append(...board.saw.map(words => {
    const step = document.createElement("li");
    step.textContent = words;
    return step;
  }));
  const more = document.createElement("details");
  const summary = document.createElement("summary");
  const cuts = board.saw.length === 1 ? "1 cut" : `${board.saw.length} cuts`;
  summary.textContent = `${cuts}, ${board.left} left over`;
  more.append(summary, steps);
  item.append(name, svg, more);
  return item;
}

function finding({ where, what, todo }) {
  const item = document.createElement("li");
  item.textContent = `${where}: ${what} ${todo}`;
  return item;
}

function tables({ materials, total, ways, directions }) {
  return [
    table("All there is to buy", ["what", "length", "needed", "buy", "each", "cost"], [
      ...materials.map(one =>
        [one.name, one.length, one.needed, one.bought, one.each, one.cost]),
      ...total ? [["together", "", "", "", "", total]] : []]),
    ...ways.length ? [table("Ways of buying the boards", ["buy", "boards", "cost", "not used"],
      ways.map(one => [one.buy, one.boards, one.cost, one.unused]))] : [],
    ...directions.length ? [table("Directions compared, the one taken first",
      ["along", "rows", "boards", "parts too small", "cost"],
      directions.map(one => [one.along, one.rows, one.boards, one.small, one.cost]))] : [],
  ];
}

function showPlan(plan) {
  const counts = plan.boards.map(({ count, length }) => `${count} × ${length}`).join(", ");
  const beside = [plan.spares ? `${plan.spares} of them spare` : "",
    plan.on_hand ? `${plan.on_hand} on hand` : ""].filter(Boolean).join(", ");
  at("buy-cost").textContent = [counts, plan.cost, beside].filter(Boolean).join(" · ");
  at("buy-proof").textContent =
    `${plan.unused ? `${plan.unused} of the length is not used. ` : ""}${plan.proof}`;
  at("buy-tables").replaceChildren(...tables(plan));
  at("buy-look").hidden = plan.findings.length === 0;
  at("buy-findings").replaceChildren(...plan.findings.map(finding));
  at("cuts").replaceChildren(...plan.cuts.map(board => drawnBoard(board, plan)));
}

function summary({ plan, current }, { outline, rows }) {
  if (!outline?.edges) return "The outline comes first.";
  if (rows?.wrong) return `The boards come first: ${rows.wrong}`;
  if (!plan) return "The cheapest boards are looked for; this takes some seconds.";
  return current ? "" : "Out of date: the job changed since this was worked out.";
}

onShown(job => {
  buy = job.buy?.sold ? job.buy : { sold: [] };
  showSold(buy);
  at("buy-say").textContent = summary(buy, job);
  at("buy-say").classList.toggle("caution", Boolean(buy.plan) && !buy.current);
  at("plan-start").textContent = buy.plan ? "Work it out anew" : "Work it out";
  at("plan-start").hidden = !job.rows?.pieces || Boolean(buy.current);
  at("buy-plan").hidden = !buy.plan;
  at("buy-plan").classList.toggle("former", Boolean(buy.plan) && !buy.current);
  if (buy.plan) showPlan(buy.plan);
  brief("buy", buy.current ? buy.plan.cost : "");
});
at("sold-more").addEventListener("click", () => {
  adding = true;
  showSold(buy);
  at(`sold-length-${buy.sold.length}`).focus();
});
addEventListener("hashchange", () => {
  const button = at("plan-start");
  if (location.hash === "#buy" && !button.hidden && !button.disabled) start();
});
