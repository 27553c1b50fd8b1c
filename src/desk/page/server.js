// What the page asks the program for. Addresses are relative to the page's own, token included.

/** An answer other than 200: its sentence and its HTTP status (0: no answer at all). */
export class Refusal extends Error {
  constructor(sentence, status) {
    super(sentence);
    this.status = status;
  }
}

async function ask(path, options) {
  let answer;
  try {
    answer = await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refusal("", 0);
  }
  if (answer.ok) return answer.json();
  const said = await answer.json().catch(() => ({error: `${answer.status}`}));
  throw new Refusal(said.error, answer.status);
}

const post = (path, json) =>
  ask(path, {method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify(json)});

export const server = {
  state: () => ask("state"),
  progress: () => ask("progress"),
  found: () => ask("found"),
  results: () => ask("results"),
  scan: (stage, side) => ask(`scan/${stage}/${side}`),
  colour: (stage, side, laid, [x, y], signal) =>
    ask(`colour/${stage}/${side}/${laid ? "laid" : "scan"}?x=${x}&y=${y}`, {signal}),
  save: (base, drawn, over) => post("save", {base, drawn, over}),
  reject: ({side, outline}, rejected) => post("reject", {side, outline, rejected}),
  shape: (gesture) => post("shape", gesture),
  look: (drawn) => post("look", {drawn}),
  assess: () => post("assess", {}),
  stop: () => post("stop", {}),
  tileAddress: (stage, side, laid, version) => (level, x, y) =>
    `${laid ? "laid" : "tile"}/${version}/${stage}/${side}/${level}/${x}/${y}`,
  mapAddress: (run, number) => `map/${run}/${number}`,
};
