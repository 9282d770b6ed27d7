// The proposed skyline: looking for the sky, teaching it where it is wrong, and what is kept of it.

import { strokeIcon } from "../draw/strokes.js";
import { notice, sendJson, troubleAt } from "../state/changes.js";
import { Trouble, post } from "../state/server.js";
import { set, state } from "../state/store.js";
import { forgetStrokes, isStroke, strokePixels, strokesOf, takeBackStroke } from "../state/strokes.js";
import { button, choice, h, progress, trouble } from "./dom.js";
import { kindWord } from "./words.js";

const STROKES = { sky: "This is sky", solid: "This is not sky" };

export function skyline() {
  const { proposals, tool } = state;
  const taught = strokesOf(state.view).length > 0;
  const job = working();
  const open = (proposals?.outlines ?? []).filter((one) => !one.taken);
  return [
    h("h2", {}, "The skyline"),
    isStroke(tool) ? null : trouble(state.troubles.skyline),
    job && !isStroke(tool) ? looking(job) : h("p", {}, button(proposals?.found ? "Look again" : "Propose outlines", () => find(true), { class: "quiet", disabled: Boolean(job) })),
    isStroke(tool) ? null : outcome(),
    proposals?.found || taught ? h("p", { class: "buttons", role: "group", "aria-label": "Teach the sky's edge" }, Object.entries(STROKES).map(([kind, words]) => button([strokeIcon(kind), words], () => take(kind), { class: "quiet with-icon", "aria-pressed": String(tool === kind) }))) : null,
    taught && !isStroke(tool) ? strokeButtons() : null,
    open.length ? h("ul", { class: "cards" }, open.map((one) => h("li", { "data-key": one.id }, h("button", { type: "button", class: "card", "aria-pressed": String(state.picked?.id === one.id), onclick: () => look(one) }, h("b", {}, one.id), h("span", {}, `${kindWord(one.kind)}${one.unsure ? ", not sure" : ""}`)), button("Keep", () => accept([one.id]), { class: "quiet", "aria-label": `Keep proposed outline ${one.id}` })))) : null,
    open.length > 1 ? h("p", {}, button(`Keep all ${open.length}`, () => accept(open.map((one) => one.id)), { class: "quiet" })) : null,
  ];
}

/** What stands in hand while somebody teaches. */
export function teaching() {
  const job = working();
  return [
    h("h2", {}, STROKES[state.tool]),
    choice("What you touch is", state.tool, [["sky", "sky"], ["solid", "not sky"]], take),
    h("p", { class: "say" }, state.tool === "sky" ? "Tap or draw over sky that lies below the line." : "Tap or draw over what the line takes for sky."),
    job ? looking(job) : outcome(),
    strokesOf(state.view).length ? strokeButtons() : h("p", { class: "note" }, `${matchMedia("(pointer: coarse)").matches ? "Two fingers move" : "A drag with shift moves"} the picture. Strokes stay on this page until you close it.`),
    trouble(state.troubles.skyline),
  ];
}

function outcome() {
  const { proposals } = state;
  if (!proposals?.found) return h("p", { class: "note" }, "The program looks for the edge of the sky; you keep what is right.");
  return h("p", { class: "note", role: "status" }, `${proposals.sure ? "The edge of the sky was found." : "The edge of the sky is not sure: look closely and say where it is wrong."} New corners snap to it.`);
}

function strokeButtons() {
  return h("p", { class: "buttons" }, button("Take back the last stroke", () => takeBackStroke() && find(), { class: "quiet" }), button("Forget the strokes", () => (forgetStrokes(), find()), { class: "quiet" }));
}

const working = () => Object.values(state.jobs).findLast((one) => one.kind === "skyline" && one.about?.view === state.view && one.state === "working");

const looking = (job) => progress("Looking for the sky", job.share);

const take = (tool) => set({ tool, picked: null, draft: null });

/** Shows a proposed outline in the picture. */
function look(one) {
  set({ tool: "look", draft: null, picked: { list: "proposals", id: one.id } });
  document.dispatchEvent(new CustomEvent("skyview:bring", { detail: one.rings_px[0] }));
}

const accept = (ids) => sendJson("keep proposed outlines", "/api/proposals/accept", { view: state.view, ids }, "skyline");

const asking = new Set();
const again = new Set();

/**
 * Has the sky of the view in hand looked for with its strokes, and `told` says so. Of a view one
 * question is on its way at a time, so that the newest strokes arrive last.
 */
export async function find(told = false) {
  const { view } = state;
  again.add(view);
  if (asking.has(view)) return;
  asking.add(view);
  try {
    while (again.delete(view)) {
      const job = await post("/api/skyline", { view, ...strokePixels(view) });
      set({ jobs: { ...state.jobs, [job.id]: job } });
      troubleAt("skyline", null);
      if (told && job.state === "working") notice("Looking for the sky; go on meanwhile.");
    }
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    troubleAt("skyline", error);
  } finally {
    asking.delete(view);
  }
}
