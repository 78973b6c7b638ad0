// The job as the server last showed it, and all that is asked of the server about it.

import { call, read } from "./talk.js";

const ofJob = [];
const ofAnything = [];
let job = null;

// Calls `show` with the job whenever it changed, as long as it can be read.
export function onShown(show) { ofJob.push(show); }

// Calls `show` before there is a job too, and while its file cannot be read.
export function onAnything(show) { ofAnything.push(show); }

export function tell(error) { document.getElementById("wrong").textContent = error.message; }

function keepFocus(render) {
  const id = document.activeElement?.id;
  render();
  if (id) document.getElementById(id)?.focus();
}

// While something is typed, what came meanwhile waits: fields are made anew when it is shown.
let typing = false;
let held = false;

function isTyped(field) {
  return field instanceof HTMLInputElement && ["text", "number"].includes(field.type);
}
addEventListener("input", event => { typing = isTyped(event.target); });
for (const end of ["change", "focusout"]) {
  addEventListener(end, () => {
    typing = false;
    if (held) show(job);
  });
}

function show(shown) {
  job = shown;
  held = typing;
  if (typing) return;
  keepFocus(() => {
    document.getElementById("wrong").textContent = job.wrong ?? "";
    for (const one of ofAnything) one(job);
    if (job.title) for (const one of ofJob) one(job);
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

// What changes elsewhere is taken up: in another browser, or in the job file by hand.
export function watch() {
  let last = null;
  setInterval(async () => {
    if (document.hidden) return;
    try {
      const { stamp } = await read("stamp");
      if (stamp !== last && stamp !== job?.stamp) refresh();
      last = stamp;
    } catch (error) {
      last = "none";
      tell(error);
    }
  }, 2000);
}

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
