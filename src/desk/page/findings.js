// What the program found in a scan, and its correction by hand.
/* global L */
import {crosses, toMap} from "./places.js";
import {figure, say, words} from "./strings.js";
import {handle, make} from "./regions.js";
import {server} from "./server.js";

const everyMs = 500;
const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

export class Findings {
  #marks = [];
  #running = null;

  constructor(record, view, tools, tell, refused) {
    Object.assign(this, {record, view, tools, tell, refused});
    this.marked = true;
    record.addEventListener("change", () => this.show());
    view.addEventListener("shown", () => this.show());
  }

  /** Looks at all scans with the corrections on the page. */
  async look() {
    try {
      let {look} = await server.look(this.record.drawn);
      const {number} = look;
      while (look.running && look.number === number) {
        this.#running = look;
        this.show();
        await pause(everyMs);
        ({look} = await server.progress());
      }
      if (look.number !== number) return;
      if (look.error) this.tell(look.error);
      this.view.found = await server.found();
      this.view.lookRun = number;
    } catch (error) {
      this.refused(error);
    }
    this.#running = null;
    await this.view.show({laid: this.view.wantsLaid});
  }

  /** The four corners that count: set by hand, or found. */
  #corners(which) {
    const by = this.record.drawn[which === "target" ? "corners" : "outlines"][this.view.scanName];
    return {byHand: Boolean(by), corners: by ?? this.view.lookOf()?.[which] ?? null};
  }

  #set(which, corners) {
    const {scanName} = this.view;
    this.record.change((drawn) => {
      const all = drawn[which === "target" ? "corners" : "outlines"];
      if (corners) all[scanName] = corners;
      else delete all[scanName];
    });
  }

  show() {
    for (const mark of this.#marks) mark.remove();
    this.#marks = [];
    if (!this.view.side) return;
    if (this.marked && !this.view.laid) {
      if (this.record.target) this.#mark("target");
      this.#mark("outline");
      this.#markPairs();
    }
    this.#panel();
  }

  #mark(which) {
    const {corners, byHand} = this.#corners(which);
    if (!corners) return;
    const {map} = this.view;
    const frame = L.polygon(corners.map(toMap), {className: `found ${which}${byHand ? " by-hand" : ""}`, interactive: false}).addTo(map);
    this.#marks.push(frame);
    if (document.getElementById("findings").hidden) return;
    corners.forEach((px, i) => {
      const title = say("cornerHandle", {what: words[which === "target" ? "target" : "sheet"], number: i + 1});
      this.#marks.push(handle(map, px, `frame ${which}`, title, (to) => {
        const moved = corners.map((p, k) => (k === i ? to : p));
        if (crosses(moved)) {
          this.tell(words.crosses);
          return this.show();
        }
        this.#set(which, moved);
      }));
    });
  }

  #markPairs() {
    const {view} = this;
    for (const [scan, pairs] of Object.entries(this.record.drawn.control_points)) {
      const mine = scan === view.scanName;
      if (!mine && !(view.isFirst && scan.endsWith(`/${view.side}`))) continue;
      pairs.forEach(([later, first], i) => {
        const mark = L.marker(toMap(mine ? later : first), {interactive: false, keyboard: false,
          icon: L.divIcon({className: "pair", iconSize: [18, 18], html: make("b", {textContent: i + 1})})});
        this.#marks.push(mark.addTo(view.map));
      });
    }
  }

  #panel() {
    const panel = document.getElementById("findings");
    const {view} = this;
    const seen = view.lookOf();
    const parts = [make("h3", {textContent: `${view.stageId}, ${words[view.side].toLowerCase()}`})];
    if (this.#running) {
      parts.push(make("p", {textContent: say("looking", {what: this.#running.what})}),
        make("progress", {value: this.#running.done, max: 1}),
        make("button", {textContent: words.stop, onclick: () => server.stop().catch(this.refused)}));
    }
    if (seen?.error) parts.push(make("p", {className: "warning", textContent: seen.error}));
    parts.push(this.#targetCard(seen), this.#sheetCard(seen), this.#alignCard(seen));
    if (seen?.warnings.length) {
      parts.push(make("h3", {textContent: words.warningsHere}), make("ul", {className: "warnings"},
        ...seen.warnings.map((sentence) => make("li", {textContent: sentence}))));
    }
    parts.push(make("p", {className: "acts"}, make("button", {className: "strong", disabled: Boolean(this.#running), textContent: words.lookAgain, title: words.lookAgainHelp, onclick: () => this.look()})),
      make("label", {className: "check"}, make("input", {type: "checkbox", checked: this.marked, onchange: (event) => {
        this.marked = event.target.checked;
        this.show();
      }}), make("span", {textContent: words.showOnScan})),
      make("p", {className: "quiet", textContent: words.handlesHelp}));
    panel.replaceChildren(...parts);
  }

  #cornersCard(title, which, text) {
    const {corners, byHand} = this.#corners(which);
    const act = byHand
      ? make("button", {textContent: words.takeFound, onclick: () => this.#set(which, null)})
      : make("button", {textContent: words.setByHand, onclick: () => this.#begin(which, corners)});
    return make("div", {className: "card"}, make("h4", {textContent: title}), make("p", {textContent: text}), make("p", {className: "acts"}, act));
  }

  /** Starts from what was found, or from a frame in the middle of the view. */
  async #begin(which, corners) {
    if (this.view.laid) await this.view.show({laid: false});
    const {lng: x, lat: y} = this.view.map.getCenter();
    const half = Math.min(this.view.frame.width, this.view.frame.height) / 8;
    this.#set(which, corners ?? [[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]].map((p) => p.map(Math.round)));
  }

  #targetCard(seen) {
    if (!this.record.target) return make("div", {className: "card"}, make("h4", {textContent: words.target}), make("p", {className: "warning", textContent: words.targetNone}));
    const {byHand} = this.#corners("target");
    const text = byHand ? words.targetByHand : seen?.target ? say("targetFound", {value: figure(seen.left_out_dE00_median, 2)}) : seen ? words.targetMissing : "";
    return this.#cornersCard(words.target, "target", text);
  }

  #sheetCard(seen) {
    const {byHand} = this.#corners("outline");
    const size = seen?.outline ? say("sheetFound", {width: figure(seen.width_mm, 1), height: figure(seen.height_mm, 1)}) : "";
    const text = byHand ? `${words.sheetByHand} ${size}` : seen ? size || words.sheetMissing : "";
    return this.#cornersCard(words.sheet, "outline", text);
  }

  #alignCard(seen) {
    const {view} = this;
    const card = make("div", {className: "card"}, make("h4", {textContent: say("alignment", {stage: view.firstId})}));
    if (view.isFirst) {
      card.append(make("p", {className: "quiet", textContent: words.alignFirst}));
      return card;
    }
    if (seen?.laid) {
      card.append(make("p", {textContent: say("alignFound", {median: figure(seen.laid.median_mm, 2), p95: figure(seen.laid.p95_mm, 2)})}));
      if (seen.laid.doubtful) card.append(make("p", {className: "warning", textContent: words.alignDoubtful}));
    } else if (seen) {
      card.append(make("p", {className: "warning", textContent: say("alignMissing", {stage: view.firstId})}));
    }
    const pairs = this.record.drawn.control_points[view.scanName] ?? [];
    card.append(make("p", {textContent: say("pairs", {count: pairs.length})}), make("ul", {className: "list"}, ...pairs.map(([later], i) =>
      make("li", {className: "acts"}, make("button", {className: "row", textContent: say("pair", {number: i + 1, x: Math.round(later[0]), y: Math.round(later[1])}), onclick: async () => {
        await view.show({laid: false});
        view.showPlace(later);
      }}), make("button", {"aria-label": say("removePair", {number: i + 1}), textContent: "×", onclick: () => this.#removePair(i)})))),
      make("p", {className: "acts"}, make("button", {textContent: words.addPair, onclick: () => this.#addPair()})));
    return card;
  }

  #removePair(i) {
    const {scanName} = this.view;
    this.record.change((drawn) => {
      drawn.control_points[scanName].splice(i, 1);
      if (drawn.control_points[scanName].length === 0) delete drawn.control_points[scanName];
    });
  }

  async #addPair() {
    const {view, tools} = this;
    const {stage, scanName, stageId} = view;
    await view.show({stage: view.first});
    const first = await tools.askPlace(say("hintPairFirst", {stage: view.firstId}));
    if (!first) return view.show({stage});
    const zoom = view.map.getZoom();
    await view.show({stage, laid: false});
    view.showPlace(first, zoom);
    const later = await tools.askPlace(say("hintPairLater", {stage: stageId}));
    if (!later) return;
    this.record.change((drawn) => (drawn.control_points[scanName] ??= []).push([later, first]));
  }
}
