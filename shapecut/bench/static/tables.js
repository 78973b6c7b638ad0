// Tables: the first cell of each row names it.

const LONG = 30; // Longer texts are broken into lines.

export function table(caption, head, rows) {
  const whole = document.createElement("table");
  whole.createCaption().textContent = caption;
  const top = whole.createTHead().insertRow();
  top.append(...head.map(words => cell("th", words, "col")));
  const body = whole.createTBody();
  for (const [first, ...others] of rows) {
    const row = body.insertRow();
    row.append(cell("th", first, "row"), ...others.map(words => cell("td", words)));
  }
  const scrolling = document.createElement("div");
  Object.assign(scrolling, { className: "scrolling", tabIndex: 0 });
  scrolling.setAttribute("role", "region");
  scrolling.setAttribute("aria-label", caption);
  scrolling.append(whole);
  return scrolling;
}

function cell(kind, words, scope) {
  const made = document.createElement(kind);
  made.textContent = words;
  if (scope) made.scope = scope;
  made.classList.toggle("long", String(words).length > LONG);
  return made;
}
