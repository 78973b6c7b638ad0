// Labelled fields: text and choices, each of one key of one table of the job file.

import { change } from "./sitting.js";

function labelled(field, words) {
  const label = document.createElement("label");
  label.htmlFor = field.id;
  label.textContent = words;
  return [label, field];
}

// A field that tells its text at each event of a kind.
export function field(id, words, attributes, changed, when = "change") {
  const input = document.createElement("input");
  Object.assign(input, { id, autocomplete: "off", ...attributes });
  input.addEventListener(when, () => changed(input.value.trim()));
  return labelled(input, words);
}

// `hint` explains the field below it.
export function textField(id, words, value, changed, hint) {
  const elements = field(id, words, { value }, text => changed(text || null));
  return hint ? hinted(elements, hint) : elements;
}

export function hinted([label, input], hint) {
  const said = document.createElement("p");
  Object.assign(said, { id: `${input.id}-hint`, className: "hint", textContent: hint });
  input.setAttribute("aria-describedby", said.id);
  return [label, input, said];
}

// `keys` are [key, words], perhaps with a hint; an emptied field takes its value away.
export function tableFields(job, table, keys) {
  return keys.flatMap(([key, words, hint]) =>
    textField(`${table}-${key}`, words, job.tables[table]?.[key] ?? "",
      value => change([table, key, value]), hint));
}

export function choiceField(id, words, options, value, changed) {
  const field = document.createElement("select");
  field.id = id;
  const all = options.some(([given]) => given === value) ? options : [...options, [value, value]];
  field.append(...all.map(([given, shown]) => new Option(shown, given, false, given === value)));
  field.addEventListener("change", () => changed(field.value));
  return labelled(field, words);
}
