// The list of stations: must-haves first, each with its mark, word and reception line.

import { lineIcon, markIcon, wordClass } from "../draw/marks.js";
import { stationsNow } from "../draw/stations.js";
import { set, state } from "../state/store.js";
import { h } from "./dom.js";
import { UNKNOWN, bearing, number, receptionWord } from "./words.js";

const lossText = (row) => (row.obstruction_loss_db === null ? "" : row.loss_at_least ? "28 or more" : number(Math.max(0, row.obstruction_loss_db), 1));

const remark = (row) => [row.beyond_horizon ? "beyond the horizon" : null, row.unseen_behind ? "unseen behind" : null].filter(Boolean).join(", ");

function reception(row) {
  if (!row.reception) return h("td", { class: "faint" }, UNKNOWN);
  return h("td", {}, lineIcon(row.reception), h("span", {}, receptionWord(row.reception)));
}

export function stationList(choose) {
  const rows = stationsNow();
  const must = rows.filter((row) => row.must_have).length;
  return h(
    "table",
    { class: "stations" },
    h("caption", { class: "hide" }, "Stations, must-haves first"),
    h("thead", {}, h("tr", {}, h("th", { scope: "col", colspan: "2" }, "Station"), h("th", { scope: "col", class: "n" }, "Ch"), h("th", { scope: "col", class: "n wide" }, "Bearing"), h("th", { scope: "col" }, "Path"), h("th", { scope: "col", class: "n" }, "Loss, dB"), h("th", { scope: "col" }, "Reception"))),
    h("tbody", {}, rows.map((row, i) =>
      h(
        "tr",
        { "data-key": row.station, class: `${row.station === state.station ? "held" : ""}${must && i === must - 1 ? " last" : ""}`, onclick: () => choose(row.station) },
        h("td", { class: "shape" }, markIcon(row.path, row.beyond_horizon)),
        h("td", {}, h("button", { type: "button", class: `call${row.must_have ? " must" : ""}`, "aria-pressed": String(row.station === state.station), "aria-label": label(row) }, row.station)),
        h("td", { class: "n" }, String(row.rf_channel)),
        h("td", { class: "n wide" }, bearing(row.bearing_deg, 1)),
        h("td", {}, h("span", { class: `word ${wordClass(row.path)}` }, row.word), remark(row) ? h("span", { class: "remark" }, ` ${remark(row)}`) : null),
        h("td", { class: "n" }, row.path === "not_seen" ? "" : lossText(row)),
        reception(row),
      ),
    )),
  );
}

const label = (row) =>
  `${row.station}${row.must_have ? ", must-have" : ""}, channel ${row.rf_channel}, bearing ${bearing(row.bearing_deg)}: ${row.word}${remark(row) ? `, ${remark(row)}` : ""}; reception ${row.reception ?? UNKNOWN}`;

export const chooseStation = (station) => set({ station: state.station === station ? null : station });
