// Elements of drawings.

const NAMESPACE = "http://www.w3.org/2000/svg";

export function made(kind, attributes, text) {
  const element = document.createElementNS(NAMESPACE, kind);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  if (text !== undefined) element.textContent = text;
  return element;
}
