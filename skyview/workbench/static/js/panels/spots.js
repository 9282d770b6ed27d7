// Spots side by side: every station's word at each spot and height.

import { markIcon, lineIcon, wordClass } from "../draw/marks.js";
import { change } from "../state/changes.js";
import { items, set, state } from "../state/store.js";
import { roofCaution } from "./cautions.js";
import { button, choice, h, trouble } from "./dom.js";
import { UNKNOWN, number } from "./words.js";

export function spotsPanel() {
  const rows = state.spots?.rows ?? [];
  if (!items("stations").length || !items("spots").length) {
    const say = items("spots").length ? "There are no stations yet. Read a list under Photos." : "There is no spot yet. Add one under Photos.";
    return [h("section", { class: "one", "data-key": "none" }, h("h2", {}, "Nothing to compare yet"), h("p", { class: "say" }, say), roofCaution())];
  }
  return [
    h(
      "section",
      { class: "side-by-side", "aria-label": "Spots side by side", "data-key": "table" },
      h("h2", {}, "Spots side by side"),
      trouble(state.troubles.spots),
      rows.length ? table(rows) : h("p", { class: "note" }, "Working it out …"),
    ),
    h(
      "section",
      { class: "set", "aria-label": "How to compare", "data-key": "set" },
      h("h2", { class: "hide" }, "How to compare"),
      choice("Leaves", state.leaf, [["in", "on"], ["out", "off"]], (leaf) => set({ leaf })),
      h("p", { class: "note" }, "Each column is one spot at one height of its mast. Press its name to look from there."),
      roofCaution(),
    ),
  ];
}

function table(rows) {
  const stations = items("stations").filter((one) => one.role !== "interferer").sort((a, b) => (b.must_have ?? false) - (a.must_have ?? false));
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "region", "aria-label": "Table of spots" },
    h(
      "table",
      { class: "spots" },
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Station"), rows.map((row) => h("th", { scope: "col", "data-key": `${row.spot}${row.antenna_height_m}` }, button(`${row.spot}, ${number(row.antenna_height_m, 1)} m`, () => lookFrom(row), { class: "quiet" }))))),
      h("tbody", {}, summary(rows), stations.map((station) => h("tr", { "data-key": station.id }, h("th", { scope: "row", class: station.must_have ? "must" : "" }, station.id), rows.map((row) => cell(row.stations.find((one) => one.station === station.id)))))),
    ),
  );
}

function summary(rows) {
  const line = (name, value) => h("tr", { class: "sum", "data-key": name }, h("th", { scope: "row" }, name), rows.map((row) => h("td", {}, value(row))));
  return [
    line("surely / likely in", (row) => (row.sure === null || row.sure === undefined ? UNKNOWN : `${row.sure} / ${row.likely}`)),
    line("weakest must-have", (row) => (row.worst_must_have ? `${row.worst_must_have}${row.worst_probability == null ? "" : `, ${number(100 * row.worst_probability)} %`}` : UNKNOWN)),
    rows.some((row) => row.refused) ? line("refused", (row) => (row.refused ? h("b", {}, row.refused) : "")) : null,
  ];
}

function cell(one) {
  if (!one) return h("td", {}, "");
  return h(
    "td",
    {},
    h("span", { class: "pair" }, markIcon(one.path), h("span", { class: `word ${wordClass(one.path)}` }, one.word)),
    one.reception ? h("span", { class: "pair" }, lineIcon(one.reception), one.reception) : h("small", {}, one.path === "not_seen" ? "" : `${number(one.obstruction_loss_db ?? 0, 1)} dB`),
  );
}

const lookFrom = (row) => set({ spot: row.spot, height: row.antenna_height_m, step: "answer" });

/** The spots themselves: where they are and how high, on the photos' page. */
export function spotForms(field) {
  return items("spots").map((spot) => {
    const patch = (words, fields) => change(words, [{ do: "patch", list: "spots", id: spot.id, fields }], { place: "spots-form" });
    const place = (i) => ({ kind: "number", value: spot.enu_m[i], unit: "m", id: `spot-${spot.id}-${i}`, change: (value) => value !== null && patch(`move ${spot.id}`, { enu_m: spot.enu_m.map((old, k) => (k === i ? value : old)) }) });
    return h("details", { "data-key": spot.id }, h("summary", {}, h("b", {}, spot.id), ` ${number(spot.enu_m[2], 1)} m up`), field("East", place(0)), field("North", place(1)), field("Up", place(2)));
  });
}
