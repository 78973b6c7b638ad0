// Labelled fields: text and choices, each of one key of one table of the job file.

function labelled(field, words) {
  const label = document.createElement("label");
  label.htmlFor = field.id;
  label.textContent = words;
  return [label, field];
}

export function textField(id, words, value, change) {
  const field = document.createElement("input");
  Object.assign(field, { id, value, autocomplete: "off" });
  field.addEventListener("change", () => change(field.value.trim() || null));
  return labelled(field, words);
}

export function choiceField(id, words, options, value, change) {
  const field = document.createElement("select");
  field.id = id;
  const all = options.some(([given]) => given === value) ? options : [...options, [value, value]];
  field.append(...all.map(([given, shown]) => new Option(shown, given, false, given === value)));
  field.addEventListener("change", () => change(field.value));
  return labelled(field, words);
}
