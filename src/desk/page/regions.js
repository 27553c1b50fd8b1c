// Regions on the scan and in the panel.
/* global L */
import {area, crosses, shift, tidy, toMap, toPx} from "./places.js";
import {figure, say, words} from "./strings.js";

const roles = {ink: "roleInk", added: "roleAdded", paper: "rolePaper", watch: "roleWatch"};
const help = {ink: "roleInkHelp", added: "roleAddedHelp", paper: "rolePaperHelp", watch: "roleWatchHelp"};
// Screen pixels between handles: nearer ones are left out until one zooms in.
const apart = matchMedia("(pointer: coarse)").matches ? 30 : 18;

/** An element with properties, attributes (named with a hyphen or "role") and children. */
export function make(kind, properties = {}, ...children) {
  const element = document.createElement(kind);
  for (const [key, value] of Object.entries(properties)) {
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key.includes("-") || key === "role") element.setAttribute(key, value);
    else element[key] = value;
  }
  element.append(...children);
  return element;
}

/** A handle that can be dragged, and moved with the arrow keys. */
export function handle(map, px, className, title, moved) {
  const marker = L.marker(toMap(px), {draggable: true, keyboard: true, title, autoPan: true,
    icon: L.divIcon({className: `handle ${className}`, iconSize: [16, 16]})}).addTo(map);
  const element = marker.getElement();
  element.setAttribute("aria-label", title);
  marker.on("dragend", () => moved(tidy(toPx(marker.getLatLng()))));
  element.addEventListener("keydown", (event) => {
    const step = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const by = event.shiftKey ? 10 : 1;
    moved(tidy(shift(px, [step[0] * by, step[1] * by])), true);
  });
  return marker;
}

export class Regions {
  #shapes = L.layerGroup();
  #handles = [];
  #corners = new Map();  // handles by their corner's number
  #refocus = null;

  constructor(record, view, tools, tell) {
    Object.assign(this, {record, view, tools, tell});
    this.lastRole = "paper";
    this.#shapes.addTo(view.map);
    record.addEventListener("change", () => this.show());
    view.addEventListener("shown", () => this.show());
    tools.addEventListener("chosen", () => this.show());
    tools.addEventListener("made", (event) => this.#add(event.detail));
    view.map.on("zoomend", () => {
      this.#dropHandles();
      this.#showHandles();
    });
    view.map.on("click", () => {
      if (tools.name === "move") record.select(null);
    });
  }

  #add(detail) {
    const old = this.record.drawn.regions.find((region) => region.id === detail.id);
    const id = old ? old.id : this.record.freeId("");
    detail.id = id;
    this.record.change((drawn) => {
      const same = drawn.regions.find((region) => region.id === id);
      if (same) same.polygon = detail.polygon;
      else drawn.regions.push({id, name: id, side: this.view.side, role: this.lastRole, under: "paper", polygon: detail.polygon});
    });
    this.record.select(id);
    if (!old) document.querySelector("#regions input[type=text]")?.select();
  }

  /** A region as somebody else found it. */
  accept(region) {
    const id = this.record.freeId(region.name);
    this.record.change((drawn) => drawn.regions.push({...region, id}));
    this.record.select(id);
  }

  edit(act) {
    const {selected} = this.record;
    this.record.change((drawn) => act(drawn.regions.find((region) => region.id === selected), drawn));
  }

  remove(id = this.record.selected) {
    const above = this.record.drawn.regions.find((region) => region.role === "added" && region.under === id);
    if (above) return this.tell(say("isUnder", {name: above.name}));
    this.record.change((drawn) => { drawn.regions = drawn.regions.filter((region) => region.id !== id); });
    this.record.select(null);
  }

  nudge(step) {
    this.edit((region) => { region.polygon = region.polygon.map((p) => tidy(shift(p, step))); });
  }

  show() {
    this.#showShapes();
    this.#showPanel();
  }

  #showShapes() {
    const focused = document.activeElement?.closest?.(".handle") ? this.#refocus : null;
    this.#shapes.clearLayers();
    this.#dropHandles();
    if (!this.view.side || !this.view.inFirst) return;
    for (const region of this.record.drawn.regions) {
      if (region.side !== this.view.side) continue;
      const chosen = region.id === this.record.selected;
      const shape = L.polygon(region.polygon.map(toMap), {className: `region ${region.role}${chosen ? " chosen" : ""}`, interactive: this.tools.name === "move"});
      shape.addTo(this.#shapes);
      shape.bindTooltip(make("span", {textContent: region.name}), {sticky: true});
      shape.on("click", (event) => {
        if (this.tools.waiting) return;
        L.DomEvent.stopPropagation(event);
        this.record.select(region.id);
      });
      if (chosen && this.tools.name === "move") this.#makeMovable(shape, region);
    }
    this.#showHandles();
    if (focused !== null) this.#corners.get(focused)?.getElement().focus();
  }

  #dropHandles() {
    for (const marker of this.#handles) marker.remove();
    this.#handles = [];
    this.#corners.clear();
  }

  #makeMovable(shape, region) {
    const element = shape.getElement();
    element.addEventListener("pointerdown", (down) => {
      if (down.button !== 0 || !down.isPrimary) return;
      down.stopPropagation();
      const {map} = this.view;
      const start = toPx(map.mouseEventToLatLng(down));
      let by = [0, 0];
      map.dragging.disable();
      element.setPointerCapture(down.pointerId);
      const move = (event) => {
        const now = toPx(map.mouseEventToLatLng(event));
        by = [now[0] - start[0], now[1] - start[1]];
        shape.setLatLngs(region.polygon.map((p) => toMap(shift(p, by))));
      };
      const end = () => {
        element.removeEventListener("pointermove", move);
        map.dragging.enable();
        // A click that trembled moves nothing.
        if (Math.hypot(...by) * 2 ** map.getZoom() > 2) this.nudge(by);
      };
      element.addEventListener("pointermove", move);
      element.addEventListener("pointerup", end, {once: true});
      element.addEventListener("pointercancel", end, {once: true});
    });
  }

  #showHandles() {
    const {region} = this.record;
    if (!region || region.side !== this.view.side || !this.view.inFirst || this.tools.name !== "move") return;
    const {polygon} = region;
    const onScreen = polygon.map((px) => this.view.map.latLngToContainerPoint(toMap(px)));
    const distance = (i, k) => onScreen[i].distanceTo(onScreen[k]);
    const shown = polygon.length <= 4 ? polygon.map((_, i) => i) : [];
    for (let i = 0; polygon.length > 4 && i < polygon.length; ++i) {
      const free = shown.length === 0 || (distance(i, shown.at(-1)) >= apart && distance(i, shown[0]) >= apart);
      if (free) shown.push(i);
    }
    const put = (i, px) => {
      const changed = polygon.with ? polygon.with(i, px) : polygon.map((p, k) => (k === i ? px : p));
      if (crosses(changed)) {
        this.tell(say("crosses"));
        return this.show();
      }
      this.#refocus = i;
      this.edit((now) => { now.polygon = changed; });
    };
    for (const i of shown) {
      const px = polygon[i];
      const marker = handle(this.view.map, px, "corner", say("vertex", {number: i + 1, name: region.name}), (to) => put(i, to));
      marker.on("drag", () => this.#follow(region, i, toPx(marker.getLatLng())));
      marker.getElement().addEventListener("focus", () => { this.#refocus = i; });
      marker.getElement().addEventListener("keydown", (event) => {
        if (event.key !== "Delete" && event.key !== "Backspace") return;
        event.preventDefault();
        event.stopPropagation();
        this.#dropCorner(polygon, i);
      });
      marker.on("contextmenu", () => this.#dropCorner(polygon, i));
      this.#handles.push(marker);
      this.#corners.set(i, marker);
    }
    polygon.forEach((px, i) => {
      if (distance(i, (i + 1) % polygon.length) < 2.5 * apart) return;
      const next = polygon[(i + 1) % polygon.length];
      const middle = [(px[0] + next[0]) / 2, (px[1] + next[1]) / 2];
      const insert = (to) => this.edit((now) => {
        const changed = [...polygon.slice(0, i + 1), to, ...polygon.slice(i + 1)];
        if (!crosses(changed)) now.polygon = changed;
      });
      this.#handles.push(handle(this.view.map, middle, "between", say("midpoint"), insert));
    });
  }

  #dropCorner(polygon, i) {
    const fewer = polygon.filter((_, k) => k !== i);
    if (fewer.length < 3 || crosses(fewer)) return;
    this.#refocus = Math.min(i, fewer.length - 1);
    this.edit((now) => { now.polygon = fewer; });
  }

  #follow(region, i, px) {
    for (const shape of this.#shapes.getLayers()) {
      if (shape.options.className.includes("chosen")) shape.setLatLngs(region.polygon.map((p, k) => toMap(k === i ? px : p)));
    }
  }

  #showPanel() {
    const panel = document.getElementById("regions");
    const focused = panel.contains(document.activeElement) ? document.activeElement.dataset.field : null;
    const at = focused && document.activeElement.selectionStart;
    const {regions} = this.record.drawn;
    const list = ["recto", "verso"].filter((side) => regions.some((region) => region.side === side)).flatMap((side) => [
      make("h3", {textContent: words[side]}),
      make("ul", {className: "list"}, ...regions.filter((region) => region.side === side).map((region) => this.#row(region))),
    ]);
    panel.replaceChildren(...(this.record.region ? [this.#form(this.record.region)] : []),
      ...(list.length ? list : [make("p", {className: "quiet", textContent: words.noRegions})]));
    if (focused) {
      const again = panel.querySelector(`[data-field="${focused}"]`);
      again?.focus();
      if (at !== null && again?.setSelectionRange && again.type === "text") again.setSelectionRange(at, at);
    }
  }

  #row(region) {
    return make("li", {}, make("button", {
      className: `row ${region.role}`, "aria-pressed": String(region.id === this.record.selected), "data-field": `row-${region.id}`,
      onclick: async () => {
        this.record.select(region.id);
        if (this.view.side !== region.side || !this.view.inFirst) {
          await this.view.show({side: region.side, stage: this.record.firstStage(region.side)});
        }
        this.view.showPolygon(region.polygon);
      },
    }, make("span", {className: "swatch"}), make("span", {className: "words", textContent: region.name}), make("span", {className: "kind", textContent: words[roles[region.role]]})));
  }

  #form(region) {
    const inFile = this.record.isInFile(region.id);
    const name = make("input", {type: "text", value: region.name, "data-field": "name", maxLength: 200, oninput: () => this.record.typed(), onchange: (event) => {
      const given = event.target.value.trim();
      this.edit((now) => {
        now.name = given || now.id;
        if (!inFile && given) this.#rename(now, this.record.freeId(given, now.id));
      });
    }});
    const role = make("fieldset", {}, make("legend", {textContent: words.role}), make("div", {className: "choice"}, ...Object.keys(roles).map((key) =>
      make("label", {title: words[help[key]], className: key}, make("input", {type: "radio", name: "role", value: key, checked: region.role === key, "data-field": `role-${key}`,
        onchange: () => this.#setRole(key)}), make("span", {textContent: words[roles[key]]})))),
      make("p", {className: "quiet", textContent: words[help[region.role]]}));
    const inks = this.record.drawn.regions.filter((other) => other.role === "ink" && other.side === region.side && other.id !== region.id);
    const under = make("label", {hidden: region.role !== "added"}, make("span", {textContent: words.under}), make("select", {"data-field": "under",
      onchange: (event) => this.edit((now) => { now.under = event.target.value; })},
      make("option", {value: "paper", textContent: words.underPaper}),
      ...inks.map((ink) => make("option", {value: ink.id, textContent: ink.name, selected: region.under === ink.id}))));
    const mm = this.view.mmPerPx;
    const facts = [region.id, mm ? say("areaMm2", {value: figure(area(region.polygon) * mm * mm, 1)}) : "", say("corners", {count: region.polygon.length})];
    return make("form", {className: "card", onsubmit: (event) => event.preventDefault()},
      make("label", {}, make("span", {textContent: words.name}), name), role, under,
      make("p", {className: "facts", textContent: facts.filter(Boolean).join(" · ")}),
      make("button", {type: "button", "aria-label": say("removeHelp", {name: region.name}), textContent: words.remove, onclick: () => this.remove(region.id)}));
  }

  #setRole(role) {
    this.lastRole = role;
    this.edit((region, drawn) => {
      region.role = role;
      region.under = "paper";
      if (role === "ink") return;
      for (const other of drawn.regions) if (other.under === region.id) other.under = "paper";
    });
  }

  #rename(region, id) {
    if (region.id === id) return;
    for (const other of this.record.drawn.regions) if (other.under === region.id) other.under = id;
    region.id = id;
    this.record.selected = id;
  }
}
