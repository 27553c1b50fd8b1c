// Assessing, and what came of it: numbers, maps over the scan, suspects.
/* global L */
import {figure, say, words} from "./strings.js";
import {make} from "./regions.js";
import {server} from "./server.js";
import {covers, toMap} from "./places.js";

const everyMs = 500;
const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

export class Assessment {
  #results = null;
  #run = 0;
  #running = null;
  #map = null;
  #overlay = null;
  #marks = L.layerGroup();
  #measured = null;  // what was drawn when it was assessed

  constructor(record, view, regions, tell, refused) {
    Object.assign(this, {record, view, regions, tell, refused});
    this.strength = 0.7;
    this.#marks.addTo(view.map);
    view.addEventListener("shown", () => {
      this.#lay();
      this.show();
    });
    record.addEventListener("change", () => this.show());
  }

  async load() {
    try {
      this.#results = await server.results();
    } catch (error) {
      this.refused(error);
    }
    this.show();
  }

  /** `save`: saves what is not saved, and tells whether it could. */
  async assess(save) {
    if (this.#running || !(await save())) return;
    const drawn = JSON.stringify(this.record.drawn.regions);
    try {
      let {assess} = await server.assess();
      const {number} = assess;
      while (assess.running && assess.number === number) {
        this.#running = assess;
        this.show();
        await pause(everyMs);
        ({assess} = await server.progress());
      }
      this.#running = null;
      if (assess.error) {
        this.tell(assess.error, true);
      } else {
        this.#run = Date.now();
        this.#measured = drawn;
        await this.load();
        this.tell(words.assessed);
      }
    } catch (error) {
      this.refused(error);
    }
    this.#running = null;
    this.#lay();
    this.show();
  }

  show() {
    const panel = document.getElementById("assessment");
    const parts = [];
    if (this.#running) {
      parts.push(make("p", {textContent: say("assessing", {what: this.#running.what})}), make("progress", {value: this.#running.done, max: 1}),
        make("p", {className: "acts"}, make("button", {textContent: words.stop, onclick: () => server.stop().catch(this.refused)})));
    }
    const results = this.#results;
    if (!results) {
      if (!this.#running) parts.push(make("p", {className: "quiet", textContent: words.noResults}));
      panel.replaceChildren(...parts);
      return;
    }
    if (this.#measured && this.#measured !== JSON.stringify(this.record.drawn.regions)) parts.push(make("p", {className: "warning", textContent: words.stale}));
    if (!results.calibrated) parts.push(make("p", {className: "warning", textContent: words.uncalibrated}));
    parts.push(...this.#maps(), ...this.#regionCards(), ...this.#suspects(), this.#notes(results.warnings),
      make("p", {className: "acts"}, make("a", {className: "button", href: "report", target: "_blank", rel: "noopener", textContent: words.report})),
      make("p", {className: "quiet", textContent: `${words.interval} ${words.advice}`}));
    panel.replaceChildren(...parts.filter(Boolean));
    this.#markSuspects();
  }

  #notes(warnings) {
    if (!warnings.length) return null;
    return make("details", {}, make("summary", {textContent: say("openDetails", {count: warnings.length})}),
      make("ul", {className: "warnings"}, ...warnings.map((sentence) => make("li", {textContent: sentence}))));
  }

  #regionCards() {
    return this.#results.regions.map((region) => make("div", {className: "card result", "data-region": region.id},
      make("h4", {}, make("span", {className: `swatch ${region.role}`}), region.name),
      ...region.changes.map((change) => make("table", {}, make("caption", {textContent: say("pairOfStages", change)}),
        this.#row(words.change, change.dE00, change.dE00_ci95, 1, "between", "ΔE00 "),
        ...(region.role === "ink" ? [this.#row(words.kept, change.strength_kept, change.strength_kept_ci95, 0, "percentBetween")] : []),
        ...(region.role === "added" ? [this.#row(words.residual, change.residual, change.residual_ci95, 0, "percentBetween")] : []))),
      ...[this.#notes([...region.warnings, ...region.changes.flatMap((change) => change.warnings)])].filter(Boolean)));
  }

  #row(name, value, ends, decimals, form, before = "") {
    const scale = form === "percentBetween" ? 100 : 1;
    const shown = value === null || !ends ? words.unknown
      : before + say(form, {value: figure(value * scale, decimals), low: figure(ends[0] * scale, decimals), high: figure(ends[1] * scale, decimals)});
    return make("tr", {}, make("th", {textContent: name, scope: "row"}), make("td", {textContent: shown}));
  }

  #maps() {
    const here = this.#results.maps.filter((map) => map.side === this.view.side);
    if (here.length === 0) return [];
    const select = make("select", {id: "map-choice", onchange: (event) => {
      this.#map = event.target.value === "" ? null : Number(event.target.value);
      this.#lay();
    }}, make("option", {value: "", textContent: words.mapNone}), ...here.map((map) =>
      make("option", {value: map.number, selected: map.number === this.#map, textContent: say("mapChoice", map)})));
    const strength = make("input", {type: "range", min: 0.2, max: 1, step: 0.05, value: this.strength, oninput: (event) => {
      this.strength = Number(event.target.value);
      this.#overlay?.setOpacity(this.strength);
    }});
    return [make("div", {className: "card"}, make("label", {}, make("span", {textContent: words.maps}), select),
      make("label", {}, make("span", {textContent: words.opacity}), strength))];
  }

  #lay() {
    this.#overlay?.remove();
    this.#overlay = null;
    const legend = document.getElementById("legend");
    legend.hidden = true;
    const map = this.#results?.maps.find((one) => one.number === this.#map);
    if (!map || map.side !== this.view.side || !this.view.inFirst) return;
    const image = new Image();
    image.src = server.mapAddress(this.#run, map.number);
    // Cells are centred on origin + pitch i; the picture's edge lies half a cell before the first.
    const [x, y] = [map.origin_px[0] - map.pitch_px / 2, map.origin_px[1] - map.pitch_px / 2];
    const bounds = L.latLngBounds(toMap([x, y]), toMap([x + map.pitch_px * map.columns, y + map.pitch_px * map.rows]));
    this.#overlay = L.imageOverlay(image.src, bounds, {opacity: this.strength, pane: "maps", interactive: false}).addTo(this.view.map);
    const scale = map.percent ? 100 : 1;
    const end = (value) => `${figure(value * scale, 0)}${map.percent ? " %" : ""}`;
    const steps = map.colours.map((colour) => {
      const step = make("i");
      step.style.background = colour;
      return step;
    });
    legend.replaceChildren(make("p", {textContent: map.legend}), make("div", {className: "scale"}, make("span", {textContent: end(map.low)}), ...steps, make("span", {textContent: end(map.high)})));
    legend.hidden = false;
  }

  /** Those that nobody decided about: not rejected, and not drawn over. */
  get #openSuspects() {
    const {regions} = this.record.drawn;
    const drawn = ({side, outline}) => regions.some((region) => region.side === side && region.role === "added" && covers(region.polygon, outline));
    return (this.#results?.suspects ?? []).filter((suspect) => !suspect.rejected && !drawn(suspect));
  }

  async #reject(suspect, rejected) {
    try {
      this.#results = await server.reject(suspect, rejected);
    } catch (error) {
      this.refused(error);
    }
    this.show();
  }

  #suspects() {
    const open = this.#openSuspects;
    const rejected = (this.#results.suspects ?? []).filter((suspect) => suspect.rejected);
    const card = (suspect, ...acts) => make("div", {className: "card", "data-suspect": suspect.id},
      make("h4", {textContent: say("suspectTitle", {id: suspect.id, area: figure(suspect.area_mm2, 1)})}), make("p", {textContent: suspect.reason}),
      make("p", {className: "acts"}, make("button", {textContent: words.showIt, onclick: async () => {
        if (this.view.side !== suspect.side || !this.view.inFirst) await this.view.show({side: suspect.side, stage: this.record.firstStage(suspect.side)});
        this.view.showPolygon(suspect.outline);
      }}), ...acts));
    const parts = [];
    if (open.length) {
      parts.push(make("h3", {textContent: words.suspects}), make("p", {className: "quiet", textContent: words.suspectsHelp}), ...open.map((suspect) => card(suspect,
        make("button", {textContent: words.accept, onclick: () =>
          this.regions.accept({name: say("suspectName", suspect), side: suspect.side, role: "added", under: suspect.under || "paper", polygon: suspect.outline})}),
        make("button", {textContent: words.reject, onclick: () => this.#reject(suspect, true)}))));
    }
    if (rejected.length) {
      parts.push(make("details", {}, make("summary", {textContent: say("rejected", {count: rejected.length})}),
        ...rejected.map((suspect) => card(suspect, make("button", {textContent: words.takeBack, onclick: () => this.#reject(suspect, false)})))));
    }
    return parts;
  }

  #markSuspects() {
    this.#marks.clearLayers();
    if (!this.view.inFirst || document.getElementById("assessment").hidden) return;
    for (const suspect of this.#openSuspects) {
      if (suspect.side === this.view.side) L.polygon(suspect.outline.map(toMap), {className: "suspect", interactive: false}).addTo(this.#marks);
    }
  }
}
