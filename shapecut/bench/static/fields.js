// Labelled fields: text and choices, each of one key of one table of the job file.

import { change } from "./sitting.js";

function labelled(field, words) {
  const label = document.createElement("label");
  label.htmlFor = field.id;
  label.textContent = words;
  return [label, field];
}

export function textField(id, words, value, changed) {
  const field = document.createElement("input");
  Object.assign(field, { id, value, autocomplete: "off" });
  field.addEventListener("change", () => changed(field.value.trim() || null));
  return labelled(field, words);
}

// `keys` are [key, words]; an emptied field takes its value away.
export function tableFields(job, table, keys) {
  return keys.flatMap(([key, words]) =>
    textField(`${table}-${key}`, words, job.tables[table]?.[key] ?? "",
      value => change([table, key, value])));
}

export function choiceField(id, words, options, value, changed) {
  const field = document.createElement("select");
  field.id = id;
  const all = options.some(([given]) => given === value) ? options : [...options, [value, value]];
  field.append(...all.map(([given, shown]) => new Option(shown, given, false, given === value)));
  field.addEventListener("change", () => changed(field.value));
  return labelled(field, words);
}
