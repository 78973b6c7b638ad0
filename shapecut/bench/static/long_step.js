// A long step: its start, its progress, and a cancel that works.

import { call, read } from "./talk.js";
import { onShown, refresh, tell } from "./sitting.js";

// The elements are #NAME-start, #NAME-stop and #NAME-progress; `words` says how it can end.
// Returns what starts it.
export function longStep(name, words = {}) {
  const [start, stop, progress] =
    ["start", "stop", "progress"].map(part => document.getElementById(`${name}-${part}`));
  let following = false;

  function show(told) {
    const running = told.state === "running";
    start.disabled = running;
    stop.hidden = !running;
    progress.textContent = running ? `${told.words} …` : words[told.state] ?? told.words;
    progress.classList.toggle("wrong", told.state === "failed");
    if (running) follow();
  }

  async function follow() {
    if (following) return;
    following = true;
    try {
      let told;
      do {
        await new Promise(done => setTimeout(done, 250));
        told = (await read("progress"))[name];
        show(told);
      } while (told.state === "running");
      refresh();
    } catch (error) { tell(error); } finally { following = false; }
  }

  async function ask(what) {
    try { show((await call(what, { step: name }))[name]); } catch (error) { tell(error); }
  }

  const begin = () => ask("start");
  start.addEventListener("click", begin);
  stop.addEventListener("click", () => ask("stop"));
  onShown(job => { if (job.progress) show(job.progress[name]); });
  return begin;
}
