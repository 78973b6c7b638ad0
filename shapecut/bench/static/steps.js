// The steps, one shown at a time; the address's end (#boards) says which.

const links = [...document.querySelectorAll("#steps a")];
const sections = [...document.querySelectorAll("main [data-step]")];
const drawing = document.getElementById("drawing");

function named(hash) {
  return links.find(link => link.hash === hash) ?? links[0];
}

function showStep({ focus }) {
  const current = named(location.hash);
  for (const link of links) {
    if (link === current) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
  }
  const step = current.hash.slice(1);
  document.body.dataset.step = step;
  for (const section of sections) section.hidden = section.dataset.step !== step;
  drawing.hidden = !drawing.dataset.steps.split(" ").includes(step);
  document.querySelector("main").classList.toggle("wide", drawing.hidden);
  if (!focus) return;
  scrollTo(0, 0);
  document.querySelector(`[data-step=${step}] h2`).focus({ preventScroll: true });
}

export function goTo(step) { location.hash = step; }

// Shows a step where the address names none.
export function begin(step) {
  if (location.hash) return;
  history.replaceState(null, "", `#${step}`);
  showStep({ focus: false });
}

// A few words under a step's name: how far it is.
export function brief(step, words) {
  named(`#${step}`).querySelector("small").textContent = words;
}

addEventListener("hashchange", () => showStep({ focus: true }));
showStep({ focus: false });
