// The keyboard. Letters choose tools, the space bar sets a point at the cross in the middle of the
// scan, arrows move the scan or the chosen region.
import {tools as allTools} from "./tools.js";

const pan = 80;  // screen pixels a key press
const arrows = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};

export function listen({record, view, tools, regions, save}) {
  const crosshair = document.getElementById("crosshair");
  const box = view.map.getContainer();
  const showCross = () => {
    crosshair.hidden = !(box.matches(":focus-visible") && tools.name !== "move");
  };
  box.addEventListener("focus", showCross);
  box.addEventListener("blur", showCross);
  tools.addEventListener("chosen", showCross);

  document.addEventListener("keydown", (event) => {
    const typing = event.target.closest("input[type=text], select, textarea");
    const {key} = event;
    const done = (act) => {
      event.preventDefault();
      act();
    };
    if (event.ctrlKey || event.metaKey) {
      if (key === "s") return done(save);
      if (typing) return undefined;
      if (key === "z") return done(() => record.undo());
      if (key === "y" || key === "Z") return done(() => record.redo());
      return undefined;
    }
    if (event.altKey || typing) return undefined;
    if (key === "Escape") return done(() => (tools.name === "move" ? record.select(null) : tools.cancel()));
    const onScan = event.target === box || event.target === document.body;
    if (key === "Enter" && onScan) return done(() => tools.finish());
    if (key === " " && onScan) return done(() => tools.setPoint());
    if (key === "+" || key === "=") return done(() => view.map.zoomIn());
    if (key === "-") return done(() => view.map.zoomOut());
    if (key === "b" && !document.getElementById("blink").hidden) return done(() => view.blink(!view.blinking));
    if ((key === "Delete" || key === "Backspace") && onScan && record.region) return done(() => regions.remove());
    if (arrows[key] && onScan) {
      const [x, y] = arrows[key];
      const by = event.shiftKey ? 10 : 1;
      if (tools.name === "move" && record.region && event.target === box) return done(() => regions.nudge([x * by, y * by]));
      return done(() => view.map.panBy([x * pan, y * pan], {animate: false}));
    }
    const chosen = Object.entries(allTools).find(([, tool]) => tool.key === key);
    return chosen ? done(() => tools.choose(chosen[0])) : undefined;
  });
}
