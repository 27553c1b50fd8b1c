// Puts the page together.
import {Assessment} from "./assessment.js";
import {Findings} from "./findings.js";
import {Record} from "./record.js";
import {Regions, make} from "./regions.js";
import {Tools} from "./tools.js";
import {View} from "./view.js";
import {label, say, words} from "./strings.js";
import {listen} from "./keys.js";
import {server} from "./server.js";

const byId = (id) => document.getElementById(id);
const watchEvery = 3000;  // ms: whether the file was changed elsewhere
const toldFor = 6000;

let fading = 0;
/** A sentence that goes by itself, or, where it matters, one that waits to be read. */
function tell(sentence, stays = false) {
  if (stays) return notice(sentence, [[words.ok, hush]]);
  clearTimeout(fading);
  byId("told").textContent = sentence;
  byId("told").classList.add("shown");
  fading = setTimeout(() => byId("told").classList.remove("shown"), toldFor);
  return undefined;
}

function notice(sentence, acts) {
  const box = byId("notice");
  box.querySelector("span").textContent = sentence;
  box.querySelector(".acts").replaceChildren(...acts.map(([text, act, title = ""]) => make("button", {textContent: text, title, onclick: act})));
  box.hidden = false;
}
function hush() { byId("notice").hidden = true; }

function refused(error) {
  if (error.name === "AbortError") return;
  tell(error.status === 0 ? words.lost : error.message, true);
}

/** One of several; `current` tells which. */
function choice(box, entries, current, choose) {
  box.replaceChildren(...entries.map(([value, text, enabled = true]) =>
    make("button", {textContent: text, disabled: !enabled, "aria-pressed": String(value === current), onclick: () => choose(value)})));
}

async function start() {
  label(document);
  const record = new Record(await server.state());
  const view = new View(record);
  const tools = new Tools(view, tell);
  const regions = new Regions(record, view, tools, tell);
  const findings = new Findings(record, view, tools, tell, refused);
  const assessment = new Assessment(record, view, regions, tell, refused);
  let saving = null;
  let conflict = "";

  function changedElsewhere() {
    notice(words.changedElsewhere, [
      [words.readAgain, async () => {
        hush();
        try {
          record.read(await server.state());
          await view.show();
        } catch (error) {
          refused(error);
        }
      }, words.readAgainHelp],
      [words.saveOver, () => save(true)],
    ]);
  }

  async function write(over) {
    const sent = JSON.parse(JSON.stringify(record.drawn));
    byId("saved").textContent = words.saving;
    try {
      record.wasSaved(await server.save(record.base, sent, over), sent);
      hush();
      return true;
    } catch (error) {
      if (error.status === 409) changedElsewhere();
      else refused(error);
      showState();
      return false;
    }
  }
  /** True where all that is on the page is in the file. */
  async function save(over = false) {
    document.activeElement?.blur?.();  // a name that is still being typed counts
    if (saving) return saving;
    if (!record.dirty && !over) return true;
    saving = write(over === true);
    try {
      return await saving;
    } finally {
      saving = null;
    }
  }

  function showState() {
    byId("title").textContent = record.title;
    document.title = `${record.dirty ? "• " : ""}${record.title} – ${words.appName}`;
    byId("saved").textContent = record.dirty ? words.notSaved : say("saved", {file: record.file});
    byId("saved").classList.toggle("dirty", record.dirty);
    byId("undo").disabled = !record.canUndo;
    byId("redo").disabled = !record.canRedo;
    byId("save").disabled = !record.dirty;
  }

  function showChoices() {
    const {stages} = record;
    const sides = ["recto", "verso"].filter((side) => record.firstStage(side) >= 0);
    choice(byId("sides"), sides.map((side) => [side, words[side]]), view.side, (side) => view.show({side}));
    choice(byId("stages"), stages.map((stage, i) => [i, stage.id, stage.sides.includes(view.side)]), view.stage,
      (stage) => view.show({stage, laid: stage === view.first ? view.wantsLaid : view.canLay(stages[stage].id)}));
    byId("lay").hidden = view.isFirst;
    choice(byId("lay"), [[false, words.asScanned], [true, say("laidOn", {stage: view.firstId}), view.canLay()]], view.laid, (laid) => view.show({laid}));
    byId("blink").hidden = !view.laid;
  }

  const panels = ["regions", "findings", "assessment"];
  function showPanel(name) {
    for (const panel of panels) byId(panel).hidden = panel !== name;
    for (const tab of byId("tabs").children) {
      tab.setAttribute("aria-selected", String(tab.dataset.panel === name));
      tab.tabIndex = tab.dataset.panel === name ? 0 : -1;
    }
    findings.show();
    assessment.show();
  }
  byId("tabs").append(...panels.map((panel) => make("button", {role: "tab", id: `tab-${panel}`, "data-panel": panel, "aria-controls": panel, textContent: words[panel], onclick: () => showPanel(panel)})));
  for (const panel of panels) byId(panel).setAttribute("aria-labelledby", `tab-${panel}`);
  byId("tabs").addEventListener("keydown", (event) => {
    const step = {ArrowRight: 1, ArrowLeft: panels.length - 1}[event.key];
    if (!step) return;
    const next = panels[(panels.indexOf(event.target.dataset.panel) + step) % panels.length];
    showPanel(next);
    byId(`tab-${next}`).focus();
  });

  byId("undo").addEventListener("click", () => record.undo());
  byId("redo").addEventListener("click", () => record.redo());
  byId("save").addEventListener("click", () => save());
  byId("assess").addEventListener("click", () => {
    showPanel("assessment");
    assessment.assess(save);
  });
  record.addEventListener("change", showState);
  record.addEventListener("typed", showState);
  view.addEventListener("shown", showChoices);
  view.addEventListener("refused", (event) => refused(event.detail));
  tools.addEventListener("refused", (event) => refused(event.detail));
  window.addEventListener("beforeunload", (event) => {
    if (record.dirty) event.preventDefault();
  });
  listen({record, view, tools, regions, save});
  setInterval(async () => {
    if (saving || document.hidden) return;
    const {base} = await server.progress().catch(() => record);
    if (saving || base === record.base || base === conflict) return;
    conflict = base;  // said once for each change
    changedElsewhere();
  }, watchEvery);

  showState();
  showPanel("regions");
  const side = record.firstStage("recto") >= 0 ? "recto" : "verso";
  await view.show({stage: record.firstStage(side), side, laid: true});
  assessment.load();
  await findings.look();
}

start().catch(refused);
