// The long step: making all papers, with its progress, a cancel, and what came of it.

import { call, read } from "./talk.js";

const [make, stop, progress, list] =
  ["make", "stop", "progress", "papers"].map(id => document.getElementById(id));
const WORDS = { idle: "", stopped: "Cancelled: the former papers are as they were." };

function paper(name, address) {
  const item = document.createElement("li");
  const link = document.createElement("a");
  Object.assign(link, { href: address, textContent: name, download: "" });
  item.append(link);
  return item;
}

export function showPapers({ making, papers }) {
  showProgress(making);
  list.replaceChildren(
    ...papers.length ? [paper("all of them (papers.zip)", "/papers.zip")] : [],
    ...papers.map((name, number) => paper(name, `/paper/${number}`)));
}

function showProgress({ state, words }) {
  const running = state === "running";
  make.disabled = running;
  stop.disabled = !running;
  progress.textContent = running ? `${words} …` : WORDS[state] ?? words;
}

async function follow() {
  for (;;) {
    const now = await read("progress");
    showProgress(now);
    if (now.state !== "running") break;
    await new Promise(done => setTimeout(done, 300));
  }
  showPapers(await read("job"));
}

export function listenForPapers(tell) {
  make.addEventListener("click", () => call("make").then(follow).catch(tell));
  stop.addEventListener("click", () => call("stop").then(showProgress).catch(tell));
}
