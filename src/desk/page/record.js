// What is drawn, as it stands on the page: changed only through change(), so that everything can be
// undone, and everyone who shows it is told.

const copy = (value) => JSON.parse(JSON.stringify(value));
const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

export class Record extends EventTarget {
  #past = [];
  #future = [];
  #saved;
  #typing = false;

  constructor(state) {
    super();
    this.selected = null;
    this.read(state);
  }

  /** Takes what the file holds; what could be undone is forgotten. */
  read(state) {
    Object.assign(this, {title: state.title, file: state.file, base: state.base, stages: state.stages, target: state.target});
    this.drawn = copy(state.drawn);
    this.#saved = copy(state.drawn);
    this.#past = [];
    this.#future = [];
    this.#typing = false;
    this.#tell();
  }

  /** After a save: what is on the page is now in the file. */
  wasSaved(state, sent) {
    this.base = state.base;
    this.#typing = false;
    this.#saved = copy(sent);
    this.#tell();
  }

  /** A word is being typed that has not yet become a change. */
  typed() {
    this.#typing = true;
    this.dispatchEvent(new Event("typed"));
  }

  change(act) {
    this.#typing = false;
    const before = copy(this.drawn);
    act(this.drawn);
    if (same(before, this.drawn)) return this.#tell();
    this.#past.push(before);
    this.#future = [];
    this.#tell();
  }

  undo() { this.#step(this.#past, this.#future); }
  redo() { this.#step(this.#future, this.#past); }
  get canUndo() { return this.#past.length > 0; }
  get canRedo() { return this.#future.length > 0; }
  get dirty() { return this.#typing || !same(this.drawn, this.#saved); }

  select(id) {
    if (this.selected === id) return;
    this.selected = id;
    this.#tell();
  }
  get region() { return this.drawn.regions.find((region) => region.id === this.selected) ?? null; }
  isInFile(id) { return this.#saved.regions.some((region) => region.id === id); }

  firstStage(side) { return this.stages.findIndex((stage) => stage.sides.includes(side)); }

  /** An id that nobody has, from words where there are any. */
  freeId(wordsGiven, own = null) {
    const taken = new Set(this.drawn.regions.filter((region) => region.id !== own).map((region) => region.id));
    taken.add("paper");
    const stem = wordsGiven.normalize("NFKD").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40);
    if (stem && !taken.has(stem)) return stem;
    for (let i = stem ? 2 : 1; ; ++i) {
      const id = `${stem || "region"}-${i}`;
      if (!taken.has(id)) return id;
    }
  }

  #step(from, to) {
    if (from.length === 0) return;
    to.push(copy(this.drawn));
    this.drawn = from.pop();
    if (!this.region) this.selected = null;
    this.#tell();
  }
  #tell() { this.dispatchEvent(new Event("change")); }
}
