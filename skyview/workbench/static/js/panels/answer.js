// The answer: the list, why, and what can be turned: spot, leaves, aim, the loss layer.

import { change } from "../state/changes.js";
import { aimsNow, antennaOfSpot, freshId, headingAhead, items, refusedHere, set, state } from "../state/store.js";
import { linesCaution } from "./cautions.js";
import { groundChoice, leafChoice } from "./layers.js";
import { button, choice, field, h, progress, trouble } from "./dom.js";
import { chooseStation, stationList } from "./stations.js";
import { whyPanel } from "./why.js";
import { UNKNOWN, bearing, number, sentence, spread } from "./words.js";

export function answerPanel() {
  const next = whatIsMissing();
  if (next) return [h("section", { class: "one", "data-key": "missing" }, h("h2", {}, "No answer yet"), h("p", { class: "say" }, next), linesCaution())];
  return [
    h("section", { class: "list", "aria-label": "Stations", "data-key": "list" }, trouble(state.troubles.answer), before(), state.paths ? stationList(choose) : progress("Working the paths out", working("heights")), tally()),
    h("section", { class: "why", "aria-label": "Why", "data-key": "why" }, whyPanel()),
    h("section", { class: "set", "aria-label": "What can be turned", "data-key": "set" }, h("h2", { class: "hide" }, "What can be turned"), settings()),
  ];
}

/** Chooses a station; on a phone the page goes back to its top, where the reason stands. */
function choose(station) {
  chooseStation(station);
  if (matchMedia("(max-width: 640px)").matches) window.scrollTo(0, 0);
}

function whatIsMissing() {
  if (!state.survey) return "There is no survey yet. Begin with a photo under Photos.";
  if (!items("views").length) return "There is no picture yet. Add one under Photos.";
  if (!items("spots").length) return "There is no spot where an antenna may stand. Add one under Photos.";
  if (!items("stations").length) return "There are no stations yet. Read a list under Photos.";
  return null;
}

/** Over an older answer while the last change could not be worked out. */
const before = () => (state.troubles.answer && state.paths ? h("p", { class: "note" }, "Below stands the answer before the last change.") : null);
const working = (kind) => Object.values(state.jobs).find((job) => job.kind === kind && job.state === "working")?.share ?? 0;

function tally() {
  const notes = [...(state.paths?.warnings ?? [])].map((text) => h("p", { class: "note", "data-key": text }, text));
  const job = state.heights?.state === "working" ? progress("Heights made ready for the mast", state.heights.share) : null;
  return [job, h("p", { class: "note" }, `Bold: must-have. ${sentence("whole_way")}`), notes];
}

function settings() {
  return [
    refusal(),
    choice("Spot", state.spot, items("spots").map((spot) => [spot.id, spot.id]), (spot) => set({ spot })),
    items("views").length > 1 ? choice("Picture", state.view, items("views").map((view) => [view.id, view.id]), (view) => set({ view })) : null,
    leafChoice("Trees", state.leaf, (leaf) => set({ leaf })),
    aimRow(),
    choice("Loss layer", state.lossShown, [[true, "show"], [false, "hide"]], (lossShown) => set({ lossShown })),
    state.lossShown ? lossRow() : null,
    groundChoice(),
    h("div", { class: "row" }, h("span", {}, "Bearings good to"), h("b", {}, state.pose?.calibrated && state.pose.azimuth_sigma_deg !== null ? spread(state.pose.azimuth_sigma_deg) : UNKNOWN)),
    linesCaution(),
  ];
}

/** Why no antenna may stand where the mast does now, as the comparison of spots says it. */
function refusal() {
  const why = refusedHere();
  return why ? h("div", { class: "caution", role: "note", "data-key": "refused" }, h("b", {}, `${state.spot} at ${number(state.height, 1)} m is refused: `), `${why}.`.replace("..", ".")) : null;
}

function lossRow() {
  const channels = [...new Map(items("stations").map((one) => [one.rf_channel, `${one.rf_channel} (${one.id})`])).entries()].sort((a, b) => a[0] - b[0]);
  const working = state.loss?.state === "working";
  return [
    field("At channel", { kind: "select", value: state.loss?.channel ?? state.lossChannel, options: channels, change: (value) => set({ lossChannel: Number(value) }) }),
    working ? progress("Working the layer out", Object.values(state.jobs).find((job) => job.kind === "loss")?.share) : null,
    h("ol", { class: "steps-db", "aria-label": "Steps of the loss layer" }, (state.loss?.steps ?? []).map((step) => h("li", { "data-key": step.text }, h("i", { class: `tint tint-${Math.round(step.opacity * 100)}` }), step.text))),
    trouble(state.troubles.loss),
  ];
}

function aimRow() {
  const antenna = antennaOfSpot();
  if (!antenna) return h("div", { class: "row" }, h("span", {}, "No antenna here yet"), button("Put one up", putUp, { class: "quiet" }));
  const aim = state.aim ?? antenna.aim_true_deg;
  if (aim === null || aim === undefined) return h("div", { class: "row" }, h("span", {}, "The antenna points nowhere yet"), button("Point it", () => turn(middle()), { class: "quiet" }));
  const step = (by) => () => turn(aim + by);
  return [
    h(
      "div",
      { class: "row aim-row", role: "group", "aria-label": "Aim of the antenna" },
      h("span", {}, "Aim ", h("b", {}, `${bearing(aim)} true`), declination() === null ? null : h("small", {}, `${bearing(aim - declination())} magnetic`)),
      h("span", { class: "seg" }, button("−1°", step(-1), { "aria-label": "Turn one degree left" }), button("+1°", step(1), { "aria-label": "Turn one degree right" })),
    ),
    trouble(state.troubles.aim),
    headingAhead() !== null && !aimsNow() ? h("p", { class: "note", role: "status" }, "Reception at this aim is being worked out; the list still shows the last one.") : null,
    aimLoss(aim),
  ];
}

const declination = () => state.angles?.declination_deg ?? null;
const middle = () => Math.round(items("stations").length ? (state.paths?.rows?.[0]?.bearing_deg ?? 0) : 0);

/** What the aim costs the chosen station, from the antenna's own table. */
function aimLoss(aim) {
  const row = state.paths?.rows?.find((one) => one.station === state.station);
  const band = state.pattern?.bands?.[0];
  if (!row || !band) return null;
  const name = row.frequency_mhz < 108 ? "low_vhf" : row.frequency_mhz < 300 ? "high_vhf" : "uhf";
  const table = state.pattern.bands.find((one) => one.band === name) ?? band;
  const offset = ((row.bearing_deg - aim + 540) % 360) - 180;
  const at = state.pattern.offsets_deg.reduce((best, value, i, all) => (Math.abs(value - offset) < Math.abs(all[best] - offset) ? i : best), 0);
  const where = Math.abs(offset) < 0.5 ? "in the aim" : `${number(Math.abs(offset))}° ${offset < 0 ? "left" : "right"} of the aim`;
  return h("p", { class: "note" }, `${row.station} lies ${where}: ${number(table.relative_db[at])} dB of the pattern.`);
}

/** Turns the antenna of this spot to an azimuth. */
export async function turn(azimuth) {
  const antenna = antennaOfSpot();
  const aim = ((Math.round(azimuth) % 360) + 360) % 360;
  if (!antenna) return;
  set({ aim });
  await change(`turn ${antenna.id} to ${aim}°`, [{ do: "patch", list: "antennas", id: antenna.id, fields: { aim_true_deg: aim } }], { place: "aim" });
  set({ aim: null });
}

function putUp() {
  const id = freshId("antennas", items("antennas").length ? state.spot : "main");
  change(`put up antenna ${id}`, [{ do: "put", list: "antennas", item: { id, spot: state.spot, height_m: state.height, aim_true_deg: middle() } }], { place: "aim" });
}
