// The job as the server last showed it, and all that is asked of the server about it.

import { call, read } from "./talk.js";

const shows = [];
let beginnings = () => {};
let job = null;

// Calls `show` with the job whenever it changed.
export function onShown(show) { shows.push(show); }

// Calls `show` with what there is before a job, and with nothing once there is one.
export function onBeginning(show) { beginnings = show; }

export function tell(error) { document.getElementById("wrong").textContent = error.message; }

function keepFocus(render) {
  const id = document.activeElement?.id;
  render();
  if (id) document.getElementById(id)?.focus();
}

function show(shown) {
  job = shown;
  keepFocus(() => {
    document.getElementById("wrong").textContent = job.wrong ?? "";
    beginnings(job.beginning);
    if (!job.beginning) for (const one of shows) one(job);
  });
}

// One after the other: the answer to a former change must not be shown over that to a later one.
let asked = Promise.resolve();

function inTurn(question) {
  asked = asked.then(question).then(show).catch(error => {
    if (job) show(job);
    tell(error);
  });
  return asked;
}

// Asks for what answers with the whole job, and shows that.
export function ask(name, values) { return inTurn(() => call(name, values)); }

// Each edit is [table, key, value]; null takes a value away.
export function change(...edits) { return ask("change", { edits }); }

export function refresh() { return inTurn(() => read("job")); }

let trying = false;
let next = null;

// Rows as they would be; of several wishes while one is tried, only the last is tried next.
export async function attempt(edit, showRows) {
  next = edit;
  if (trying) return;
  trying = true;
  while (next) {
    const edits = [next];
    next = null;
    try {
      showRows(await call("try", { edits }));
      document.getElementById("wrong").textContent = "";
    } catch (error) { tell(error); }
  }
  trying = false;
}
