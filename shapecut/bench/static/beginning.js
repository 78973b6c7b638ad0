// Before there is a job: its title and units, and then its steps.

import { call } from "./talk.js";
import { onAnything, refresh, tell } from "./sitting.js";

const at = id => document.getElementById(id);

function listed(pictures) {
  const words = pictures.length === 1 ? `the photograph ${pictures[0]}` :
    `the ${pictures.length} photographs`;
  return `Use ${words} that lie${pictures.length === 1 ? "s" : ""} in its folder already`;
}

onAnything(({ beginning }) => {
  const section = at("beginning");
  const fresh = beginning && section.hidden;
  section.hidden = !beginning;
  if (!fresh) return;
  at("begin-title").value = beginning.title;
  at("begin-listed").checked = beginning.pictures.length > 0;
  at("begin-listed").closest("label").hidden = beginning.pictures.length === 0;
  at("begin-listed-words").textContent = listed(beginning.pictures);
  at("begin-title").focus();
});

at("begin-form").addEventListener("submit", async event => {
  event.preventDefault();
  try {
    await call("begin", {
      title: at("begin-title").value,
      units: document.querySelector("input[name=units]:checked").value,
      pictures: at("begin-listed").checked,
    });
    await refresh();
    document.querySelector("[data-step=photographs] h2").focus();
  } catch (error) { tell(error); }
});
