// Drawing: gestures of mouse, pen, finger and keyboard become polygons on the first stage's scan.
/* global L */
import {crosses, snap, tidy, toMap, toPx} from "./places.js";
import {say, words} from "./strings.js";
import {server} from "./server.js";

const byId = (id) => document.getElementById(id);
const closeEnough = 12;  // screen pixels within which a point counts as met
const leastStep = 3;     // screen pixels between points of a freehand line

/** Each tool: how it is reached by key, and which figure goes with it. */
export const tools = {
  move: {key: "v", say: "toolMove", hint: "hintMove"},
  polygon: {key: "c", say: "toolPolygon", hint: "hintPolygon", clicks: true},
  rectangle: {key: "r", say: "toolRectangle", hint: "hintRectangle", drags: true},
  freehand: {key: "f", say: "toolFreehand", hint: "hintFreehand", drags: true},
  line: {key: "l", say: "toolLine", hint: "hintLine", clicks: true,
    amount: {label: "lineWidth", unit: "mm", min: 0.1, max: 5, step: 0.1, value: 0.5}},
  grow: {key: "g", say: "toolGrow", hint: "hintGrow",
    amount: {label: "reach", unit: "dE", min: 2, max: 40, step: 1, value: 12}},
};

export class Tools extends EventTarget {
  #points = [];
  #sketch = null;
  #dragging = null;
  #asked = null;  // a place somebody else waits for
  #last = null;   // the gesture that `amount` still changes

  constructor(view, tell) {
    super();
    this.view = view;
    this.tell = tell;
    this.name = "move";
    for (const [name, tool] of Object.entries(tools)) {
      const button = document.createElement("button");
      button.textContent = words[tool.say];
      button.dataset.tool = name;
      button.setAttribute("aria-keyshortcuts", tool.key);
      button.title = tool.key.toUpperCase();
      button.addEventListener("click", () => this.choose(name));
      byId("tools").append(button);
    }
    const map = view.map;
    map.on("click", (event) => this.#click(toPx(event.latlng)));
    map.on("dblclick", () => this.finish());
    map.on("mousemove", (event) => this.#hover(toPx(event.latlng)));
    const box = map.getContainer();
    box.addEventListener("pointerdown", (event) => this.#down(event), {capture: true});
    box.addEventListener("pointermove", (event) => this.#drag(event));
    box.addEventListener("pointerup", (event) => this.#up(event));
    box.addEventListener("pointercancel", () => this.cancel());
    byId("finish").addEventListener("click", () => this.finish());
    byId("cancel").addEventListener("click", () => this.cancel());
    byId("amount").querySelector("input").addEventListener("input", () => this.#amountChanged());
    view.addEventListener("left", () => this.cancel());
    this.choose("move");
  }

  /** Whether somebody else waits for a place. */
  get waiting() { return this.#asked !== null; }
  get tool() { return tools[this.name]; }

  choose(name) {
    this.#last = null;
    this.#asked = null;
    this.name = name;
    this.#clear();
    for (const button of byId("tools").children) button.setAttribute("aria-pressed", String(button.dataset.tool === name));
    if (this.tool.drags) this.view.map.dragging.disable();
    else this.view.map.dragging.enable();
    this.view.map.getContainer().classList.toggle("draws", name !== "move");
    this.#hint();
    this.dispatchEvent(new Event("chosen"));
  }

  /** One place for somebody else; null where it was cancelled. */
  askPlace(hint) {
    this.choose("move");
    return new Promise((resolve) => {
      this.#asked = resolve;
      this.view.map.getContainer().classList.add("draws");
      this.#hint(hint);
    });
  }

  /** The place at the cross, for those who draw by keyboard. */
  setPoint() {
    if (this.tool.drags && this.name === "rectangle") {
      if (this.#points.length === 0) this.#points = [snap(this.view.middle)];
      else this.#rectangle(snap(this.view.middle));
      this.#draw(this.#points, snap(this.view.middle));
    } else {
      this.#click(this.view.middle);
    }
  }

  cancel() {
    const asked = this.#asked;
    this.#asked = null;
    this.#last = null;
    this.#clear();
    this.#hint();
    if (asked) {
      this.view.map.getContainer().classList.toggle("draws", this.name !== "move");
      asked(null);
    }
  }

  async finish() {
    const points = this.#points;
    if (!this.tool.clicks || points.length < 2) return;
    if (this.name === "line") {
      this.#clear();
      return this.#fromServer({kind: "line", points});
    }
    if (points.length < 3) return;
    if (crosses(points)) return this.tell(say("crosses"));
    this.#clear();
    this.#made(points);
  }

  #hint(sentence = words[this.tool.hint]) {
    byId("hint").hidden = !sentence;
    byId("hint").querySelector("span").textContent = sentence;
    byId("finish").hidden = !this.tool.clicks || Boolean(this.#asked);
    const {amount} = this.tool;
    byId("amount").hidden = !amount;
    if (!amount) return;
    const input = byId("amount").querySelector("input");
    Object.assign(input, {min: amount.min, max: amount.max, step: amount.step});
    input.value = amount.value;
    byId("amount").querySelector("span").textContent = words[amount.label];
    byId("amount").querySelector("output").textContent = say(amount.unit, {value: amount.value});
  }

  #amountChanged() {
    const {amount} = this.tool;
    amount.value = Number(byId("amount").querySelector("input").value);
    byId("amount").querySelector("output").textContent = say(amount.unit, {value: amount.value});
    if (this.#last) this.#fromServer(this.#last.gesture, this.#last.id);
  }

  #allowed() {
    if (this.view.inFirst) return true;
    this.tell(say("drawOnFirst", {stage: this.view.firstId}));
    return false;
  }

  #click(px) {
    if (this.#asked) {
      const asked = this.#asked;
      this.#asked = null;
      this.view.map.getContainer().classList.remove("draws");
      this.#hint();
      return asked(tidy(px));
    }
    if (this.name === "grow" && this.#allowed()) {
      if (!this.view.found) return this.tell(say("lookFirst"));
      return this.#fromServer({kind: "grow", side: this.view.side, at: px});
    }
    if (!this.tool.clicks || !this.#allowed()) return;
    const near = (at) => this.#onScreen(at).distanceTo(this.#onScreen(px)) < closeEnough;
    const points = this.#points;
    if (this.name === "polygon" && points.length > 2 && near(points[0])) return this.finish();
    if (points.length > 0 && near(points.at(-1))) return;  // the second click of two
    points.push(tidy(px));
    this.#draw(points);
  }

  #hover(px) {
    if (this.tool.clicks && this.#points.length > 0) this.#draw(this.#points, px);
  }

  #onScreen(px) { return this.view.map.latLngToContainerPoint(toMap(px)); }
  #place(event) { return toPx(this.view.map.mouseEventToLatLng(event)); }

  #down(event) {
    if (!this.tool.drags || event.target.closest(".leaflet-marker-icon")) return;
    if (!event.isPrimary) return this.#clear();  // a second finger zooms
    if (event.button !== 0 || !this.#allowed()) return;
    event.target.setPointerCapture?.(event.pointerId);
    const px = this.#place(event);
    this.#dragging = event.pointerId;
    this.#points = [this.name === "rectangle" ? snap(px) : px];
  }

  #drag(event) {
    if (this.#dragging !== event.pointerId) return;
    const px = this.#place(event);
    if (this.name === "rectangle") return this.#draw(this.#points, snap(px));
    if (this.#onScreen(px).distanceTo(this.#onScreen(this.#points.at(-1))) < leastStep) return;
    this.#points.push(px);
    this.#draw(this.#points);
  }

  #up(event) {
    if (this.#dragging !== event.pointerId) return;
    this.#dragging = null;
    if (this.name === "rectangle") return this.#rectangle(snap(this.#place(event)));
    const points = this.#points;
    this.#clear();
    // Half a screen pixel: what the hand meant cannot be finer.
    const tolerance = 0.75 / 2 ** this.view.map.getZoom();
    if (points.length > 3) this.#fromServer({kind: "freehand", points: points.slice(0, 4900), tolerance});
  }

  #rectangle([x, y]) {
    const [u, v] = this.#points[0];
    this.#clear();
    if (x === u || y === v) return;
    const [left, right, top, bottom] = [Math.min(x, u), Math.max(x, u), Math.min(y, v), Math.max(y, v)];
    this.#made([[left, top], [right, top], [right, bottom], [left, bottom]]);
  }

  async #fromServer(gesture, id = null) {
    const asked = {...gesture};
    if (gesture.kind === "line") asked.width = this.tool.amount.value / (this.view.mmPerPx ?? 25.4 / 300);
    if (gesture.kind === "grow") asked.reach = this.tool.amount.value;
    try {
      const {polygon} = await server.shape(asked);
      if (polygon.length < 3) return this.tell(say(gesture.kind === "grow" ? "nothingGrown" : "nothingDrawn"));
      const made = this.#made(polygon, id);
      this.#last = gesture.kind === "freehand" ? null : {gesture, id: made};
    } catch (error) {
      this.dispatchEvent(new CustomEvent("refused", {detail: error}));
    }
  }

  /** `id`: of the region that this shape replaces. Returns the region's id. */
  #made(polygon, id = null) {
    const detail = {polygon: polygon.map(tidy), id};
    this.dispatchEvent(new CustomEvent("made", {detail}));
    return detail.id;
  }

  #draw(points, next) {
    const {map} = this.view;
    this.#sketch?.remove();
    let corners = next ? [...points, next] : points;
    if (this.name === "rectangle" && next) corners = [points[0], [next[0], points[0][1]], next, [points[0][0], next[1]]];
    const style = {className: "sketch", interactive: false};
    const line = this.tool.drags || (this.name === "polygon" && corners.length > 2) ? L.polygon : L.polyline;
    this.#sketch = L.layerGroup([
      line(corners.map(toMap), style),
      ...(this.tool.clicks ? points : []).map((p) => L.circleMarker(toMap(p), {...style, radius: 4})),
    ]).addTo(map);
  }

  #clear() {
    this.#points = [];
    this.#dragging = null;
    this.#sketch?.remove();
    this.#sketch = null;
  }
}
