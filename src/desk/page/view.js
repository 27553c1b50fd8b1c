// The scan: which one is shown, how it lies, and what is under the pointer.
/* global L */
import {crs, toMap, toPx} from "./places.js";
import {figure, say} from "./strings.js";
import {server} from "./server.js";

const tileSize = 512;
const blinkEvery = 700;  // ms: slower than anything that could harm (WCAG 2.2, 2.3.1)
const pointerEvery = 90;
const leastShown = 120;  // screen pixels across which a region can be worked on

const ScanTiles = L.TileLayer.extend({
  getTileUrl(at) { return this.options.address(-at.z, at.x, at.y); },
});

const byId = (id) => document.getElementById(id);

export class View extends EventTarget {
  #scans = new Map();
  #layer = null;
  #other = null;
  #blinking = 0;
  #asking = null;
  #lastAsked = 0;
  #asked = 0;
  #place = "";
  #picture = "";

  constructor(record) {
    super();
    this.record = record;
    this.lookRun = 0;
    this.found = null;
    this.map = L.map("map", {
      crs, minZoom: -8, maxZoom: 4, zoomSnap: 0.25, zoomDelta: 1, wheelPxPerZoomLevel: 90,
      attributionControl: false, zoomControl: false, doubleClickZoom: false, keyboard: false, maxBoundsViscosity: 0.6,
      markerZoomAnimation: false,
    });
    this.map.createPane("maps").style.zIndex = 350;
    this.map.on("zoomend", () => this.#showZoom());
    this.map.on("mousemove", (event) => this.#point(toPx(event.latlng)));
    this.map.on("click", (event) => this.#point(toPx(event.latlng)));
    this.map.getContainer().addEventListener("pointerleave", () => this.#point(null));
    byId("in").addEventListener("click", () => this.map.zoomIn());
    byId("out").addEventListener("click", () => this.map.zoomOut());
    byId("whole").addEventListener("click", () => this.showWhole());
    byId("blink").addEventListener("click", () => this.blink(!this.#blinking));
    new ResizeObserver(() => this.map.invalidateSize()).observe(this.map.getContainer());
  }

  get stageId() { return this.record.stages[this.stage].id; }
  get first() { return this.record.firstStage(this.side); }
  get firstId() { return this.record.stages[this.first].id; }
  get isFirst() { return this.stage === this.first; }
  /** Whether places on the map are pixels of the first stage's scan. */
  get inFirst() { return this.isFirst || this.laid; }
  get scanName() { return `${this.stageId}/${this.side}`; }
  lookOf(stage = this.stageId, side = this.side) {
    return this.found?.scans.find((scan) => scan.stage === stage && scan.side === side) ?? null;
  }
  canLay(stage = this.stageId) { return Boolean(this.lookOf(stage)?.laid); }
  get size() { return this.#scans.get(`${this.stage}/${this.side}`) ?? null; }
  get mmPerPx() {
    const seen = this.lookOf(this.inFirst ? this.firstId : this.stageId);
    const dpi = this.frame?.dpi;
    return seen?.mm_per_px ?? (dpi ? 25.4 / dpi : null);
  }

  async #info(stage, side) {
    const key = `${stage}/${side}`;
    if (!this.#scans.has(key)) this.#scans.set(key, await server.scan(stage, side));
    return this.#scans.get(key);
  }

  #tiles(stage, side, laid, frame, version) {
    return new ScanTiles("", {
      address: server.tileAddress(stage, side, laid, version), tileSize, noWrap: true, keepBuffer: 3,
      minZoom: -8, maxZoom: 4, maxNativeZoom: 0, minNativeZoom: -frame.coarsest,
      bounds: L.latLngBounds([0, 0], [frame.height, frame.width]),
    });
  }

  /** Shows a scan; the place on the map is kept where both are in the same pixels. */
  async show({stage = this.stage, side = this.side, laid = this.laid} = {}) {
    this.blink(false);
    const before = {side: this.side, inFirst: this.side ? this.inFirst : false};
    if (!this.record.stages[stage].sides.includes(side)) stage = this.record.firstStage(side);
    this.stage = stage;
    this.side = side;
    this.wantsLaid = laid;
    this.laid = laid && !this.isFirst && this.canLay();
    const asked = ++this.#asked;
    let info, frame;
    try {
      info = await this.#info(stage, side);
      frame = this.laid ? await this.#info(this.first, side) : info;
    } catch (error) {
      this.dispatchEvent(new CustomEvent("refused", {detail: error}));
      return;
    }
    if (asked !== this.#asked) return;
    this.frame = frame;
    const place = `${stage}/${side}/${this.laid}`;
    const picture = `${place}/${this.laid ? this.lookRun : info.version}`;
    if (this.#place !== place) this.dispatchEvent(new Event("left"));
    this.#place = place;
    if (this.#picture === picture) return this.dispatchEvent(new Event("shown"));
    this.#picture = picture;
    const layer = this.#tiles(stage, side, this.laid, frame, this.laid ? this.lookRun.toString(16) : info.version);
    const old = this.#layer;
    this.#layer = layer;
    const bounds = L.latLngBounds([0, 0], [frame.height, frame.width]);
    this.map.setMaxBounds(bounds.pad(0.4));
    this.map.setMinZoom(-frame.coarsest);
    if (before.side !== side || before.inFirst !== this.inFirst) this.showWhole(false);
    layer.addTo(this.map);
    if (old) {
      // Until the new one is there, so that nothing flashes; but no longer than a moment.
      const drop = () => old.remove();
      layer.once("load", drop);
      setTimeout(drop, 2500);
    }
    this.#showZoom();
    this.dispatchEvent(new Event("shown"));
  }

  showWhole(animate = true) {
    if (this.frame) this.map.fitBounds([[0, 0], [this.frame.height, this.frame.width]], {animate});
  }
  showPlace(px, zoom = Math.max(this.map.getZoom(), 0)) { this.map.setView(toMap(px), zoom, {animate: false}); }
  showPolygon(polygon) {
    const bounds = L.latLngBounds(polygon.map(toMap));
    const screen = (corner) => this.map.latLngToContainerPoint(corner);
    const small = screen(bounds.getNorthWest()).distanceTo(screen(bounds.getSouthEast())) < leastShown;
    if (small || !this.map.getBounds().contains(bounds)) this.map.fitBounds(bounds.pad(0.6), {maxZoom: 1});
  }
  get middle() { return toPx(this.map.getCenter()); }

  /** Shows the first stage and this one in turn. */
  blink(on) {
    const button = byId("blink");
    clearInterval(this.#blinking);
    this.#blinking = 0;
    this.#other?.remove();
    this.#other = null;
    button.setAttribute("aria-pressed", String(on && this.laid === true));
    if (!on || !this.laid) return;
    const info = this.#scans.get(`${this.first}/${this.side}`);
    this.#other = this.#tiles(this.first, this.side, false, info, info.version).addTo(this.map);
    let shown = true;
    this.#blinking = setInterval(() => {
      shown = !shown;
      this.#other.setOpacity(shown ? 1 : 0);
    }, blinkEvery);
  }
  get blinking() { return this.#blinking !== 0; }

  #showZoom() {
    const zoom = this.map.getZoom();
    if (zoom !== undefined) byId("scale").textContent = say("zoom", {value: Math.round(100 * 2 ** zoom)});
  }

  async #point(px) {
    if (!px || !this.frame) {
      byId("place").textContent = byId("colour").textContent = "";
      return;
    }
    byId("place").textContent = say("place", {x: Math.round(px[0]), y: Math.round(px[1])});
    const now = Date.now();
    if (!this.found || now - this.#lastAsked < pointerEvery) return;
    this.#lastAsked = now;
    this.#asking?.abort();
    this.#asking = new AbortController();
    try {
      this.#showColour(await server.colour(this.stage, this.side, this.laid, px, this.#asking.signal));
    } catch (error) {
      if (error.name !== "AbortError") byId("colour").textContent = "";
    }
  }

  #showColour(measured) {
    const out = byId("colour");
    if (!measured?.lab) {
      out.textContent = "";
      return;
    }
    const [L_, a, b] = measured.lab.map((v) => figure(v, 1));
    const sure = measured.u_lab
      ? say("labSure", Object.fromEntries(["L", "a", "b"].map((key, i) => [key, figure(measured.u_lab[i], 1)])))
      : say("labUncalibrated");
    out.textContent = `${say("lab", {L: L_, a, b})}   ${sure}`;
  }
}
