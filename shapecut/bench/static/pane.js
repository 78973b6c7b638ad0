// A pane: a picture with the outline over it, to be moved about in and looked at more closely.

import { made } from "./svg.js";

export const SLIP = 3; // Pixels that a pointer may slip while it only points.
const MOST_ZOOM = 40;
const STEP = 1.5;
const LAYERS = ["picture", "bands", "lines", "marks", "overlay"];

export class Pane {
  // `figure` holds an svg and buttons whose data-zoom is in, out or all.
  constructor(figure) {
    this.svg = figure.querySelector("svg");
    this.whole = [0, 0, 100, 100];
    this.box = this.whole;
    this.layers = Object.fromEntries(LAYERS.map(name => {
      const layer = made("g", { class: name });
      this.svg.append(layer);
      return [name, layer];
    }));
    for (const button of figure.querySelectorAll("[data-zoom]")) {
      button.addEventListener("click", () => this.#pressed(button.dataset.zoom));
    }
    this.#listen();
    new ResizeObserver(() => this.#place(this.box)).observe(this.svg);
  }

  // What there is to see, and where to begin: boxes are [x, y, width, height].  Who looks more
  // closely at a picture goes on doing so while what is drawn over it changes.
  show({ picture, frame, box }) {
    const shown = picture ? [made("image", {
      href: picture, x: frame[0], y: frame[1], width: frame[2], height: frame[3],
      preserveAspectRatio: "none",
    })] : [];
    const before = this.layers.picture.firstChild?.getAttribute("href") ?? null;
    const another = before !== picture || String(this.box) === String(this.whole);
    if (before !== picture) this.layers.picture.replaceChildren(...shown);
    this.whole = box;
    if (another) this.#place(box);
  }

  lookAt([x, y]) {
    const [, , width, height] = this.whole.map(value => value / 4);
    this.#place([x - width / 2, y - height / 2, width, height]);
  }

  // Tells where in the picture is pointed at; who moves the picture does not point.
  onPoint(tell) {
    let from = null;
    this.svg.addEventListener("pointerdown", event => { from = event; });
    this.svg.addEventListener("click", event => {
      const slipped = from && Math.hypot(event.clientX - from.clientX, event.clientY - from.clientY);
      if (slipped !== null && slipped <= SLIP) tell(this.at(event));
    });
  }

  // Where in the picture a pointer is.
  at(event) {
    const { x, y } = new DOMPoint(event.clientX, event.clientY)
      .matrixTransform(this.svg.getScreenCTM().inverse());
    return [x, y];
  }

  #place([x, y, width, height]) {
    this.box = [x, y, width, height];
    this.svg.setAttribute("viewBox", this.box.join(" "));
    // Until one looks more closely, a finger on the picture scrolls the page.
    this.svg.classList.toggle("closer", String(this.box) !== String(this.whole));
    const { clientWidth, clientHeight } = this.svg;
    if (!clientWidth) return;
    // What is drawn with this unit keeps its size on the screen.
    const unit = Math.max(width / clientWidth, height / clientHeight);
    this.svg.style.setProperty("--unit", `${unit}px`);
  }

  #zoom(by, [x, y] = [this.box[0] + this.box[2] / 2, this.box[1] + this.box[3] / 2]) {
    const [left, top, width, height] = this.box;
    const least = this.whole[2] / MOST_ZOOM, most = this.whole[2] * 4;
    const factor = Math.min(Math.max(width / by, least), most) / width;
    this.#place([x - (x - left) * factor, y - (y - top) * factor, width * factor, height * factor]);
  }

  #shift(right, down) {
    const [left, top, width, height] = this.box;
    this.#place([left + right, top + down, width, height]);
  }

  #pressed(what) {
    if (what === "all") this.#place(this.whole);
    else this.#zoom(what === "in" ? STEP : 1 / STEP);
  }

  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const [across, down] = [this.box[2] / 10, this.box[3] / 10];
    const done = {
      ArrowLeft: () => this.#shift(-across, 0),
      ArrowRight: () => this.#shift(across, 0),
      ArrowUp: () => this.#shift(0, -down),
      ArrowDown: () => this.#shift(0, down),
      "+": () => this.#zoom(STEP),
      "-": () => this.#zoom(1 / STEP),
      0: () => this.#place(this.whole),
    }[event.key];
    if (!done) return;
    event.preventDefault();
    done();
  }

  // One pointer moves the picture, two draw it apart; what is marked data-held is not for this.
  #listen() {
    const held = new Map();
    this.svg.addEventListener("keydown", event => this.#key(event));
    this.svg.addEventListener("wheel", event => {
      event.preventDefault();
      this.#zoom(event.deltaY < 0 ? STEP : 1 / STEP, this.at(event));
    }, { passive: false });
    this.svg.addEventListener("pointerdown", event => {
      if (!event.target.closest("[data-held]")) held.set(event.pointerId, event);
    });
    this.svg.addEventListener("pointermove", event => {
      const before = held.get(event.pointerId);
      if (!before) return;
      const [x, y] = this.at(event), [from, top] = this.at(before);
      const other = [...held.values()].find(one => one.pointerId !== event.pointerId);
      if (other) {
        const [u, v] = this.at(other);
        this.#zoom(Math.hypot(x - u, y - v) / Math.hypot(from - u, top - v), [u, v]);
      } else if (event.buttons) this.#shift(from - x, top - y);
      held.set(event.pointerId, event);
    });
    for (const end of ["pointerup", "pointercancel", "pointerleave"]) {
      this.svg.addEventListener(end, event => held.delete(event.pointerId));
    }
  }
}
