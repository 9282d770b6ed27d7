// Spots side by side, as the command line has them: what is refused, what each place brings.

import { markIcon, lineIcon, wordClass } from "../draw/marks.js";
import { change } from "../state/changes.js";
import { items, set, state } from "../state/store.js";
import { linesCaution, roofCaution } from "./cautions.js";
import { button, h, trouble } from "./dom.js";
import { leafChoice } from "./layers.js";
import { UNKNOWN, number, receptionWord } from "./words.js";

export function spotsPanel() {
  if (!items("stations").length || !items("spots").length) {
    const say = items("spots").length ? "There are no stations yet. Read a list under Photos." : "There is no spot yet. Add one under Photos.";
    return [h("section", { class: "one", "data-key": "none" }, h("h2", {}, "Nothing to compare yet"), h("p", { class: "say" }, say), roofCaution())];
  }
  return [
    h("section", { class: "side-by-side", "aria-label": "Spots side by side", "data-key": "table" }, h("h2", {}, "Spots side by side"), comparison()),
    h(
      "section",
      { class: "set", "aria-label": "How to compare", "data-key": "set" },
      h("h2", { class: "hide" }, "How to compare"),
      leafChoice("Trees", state.leaf, (leaf) => set({ leaf })),
      h("p", { class: "note" }, "Each column is one spot at one height of its mast. Press its name to look from there."),
      linesCaution(),
      roofCaution(),
    ),
  ];
}

/** The comparison of the survey as it stands now; nothing is shown of an earlier one, since what was
    free then may be refused now. */
function comparison() {
  if (state.troubles.spots) return trouble(state.troubles.spots);
  const found = state.spots;
  const now = found?.revision === state.revision && found.leaf === state.leaf && state.saved === "saved";
  if (!now) return h("p", { class: "note", role: "status" }, state.saved === "saved" ? "Working it out …" : "This waits until the last change is saved.");
  return [
    h("p", { class: "say", role: "status" }, found.best ?? "Working out what the others bring …"),
    found.refused.length ? h("ul", { class: "caution" }, found.refused.map((text) => h("li", { "data-key": text }, text))) : null,
    table([...found.rows].sort((a, b) => place(a) - place(b))),
    found.more.length ? h("ul", { class: "further" }, found.more.map((text) => h("li", { "data-key": text }, text))) : null,
    found.warnings.map((text) => h("p", { class: "note", "data-key": text }, text)),
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
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Station"), rows.map(head))),
      h("tbody", {}, summary(rows), stations.map((station) => h("tr", { "data-key": station.id }, h("th", { scope: "row", class: station.must_have ? "must" : "" }, station.id), rows.map((row) => cell(row, station.id))))),
    ),
  );
}

/** The best first, what is refused last, else as in the survey. */
const place = (row) => (row.refused ? 3 : { best: 0, alike: 1 }[row.standing] ?? 2);
const STANDING = { best: "best", alike: "as good" };

function head(row) {
  const word = row.refused ? "refused" : STANDING[row.standing] ?? null;
  const key = `${row.spot} ${row.antenna_height_m}`;
  return h("th", { scope: "col", "data-key": key, class: row.refused ? "refused" : "" }, button(`${row.spot}, ${number(row.antenna_height_m, 1)} m`, () => lookFrom(row), { class: "quiet" }), word ? h("b", {}, word) : null);
}

function summary(rows) {
  const line = (name, value) => h("tr", { class: "sum", "data-key": name }, h("th", { scope: "row" }, name), rows.map((row) => h("td", {}, row.refused ? "" : value(row))));
  return [
    line("surely / likely in", (row) => (row.sure === null ? UNKNOWN : `${row.sure} / ${row.likely}`)),
    line("weakest must-have", (row) => (row.worst_must_have ? `${row.worst_must_have}${row.worst_probability === null ? "" : `, ${number(100 * row.worst_probability)} %`}` : row.sure === null ? UNKNOWN : "")),
  ];
}

function cell(row, station) {
  const one = row.stations.find((other) => other.station === station);
  if (!one) return h("td", {}, row.refused || row.sure !== null ? "" : "…");
  return h("td", {}, h("span", { class: "pair" }, markIcon(one.path), h("span", { class: `word ${wordClass(one.path)}` }, one.word)), h("span", { class: "pair" }, lineIcon(one.reception), receptionWord(one.reception)));
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
