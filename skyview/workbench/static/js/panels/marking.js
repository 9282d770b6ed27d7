// A mark being placed: its kind, what it is of, and a trial of the calibration while it is held.

import { change } from "../state/changes.js";
import { Trouble, post } from "../state/server.js";
import { freshId, items, set, state } from "../state/store.js";
import { button, choice, field, h, trouble } from "./dom.js";
import { MARKS } from "./words.js";

const TRIAL_EVERY_MS = 90;
let form = { kind: "landmark", of: "", name: "", latitude: null, longitude: null, top: null, azimuth: null, north: "magnetic", elevation: null, by: "spirit" };
let again = null;
let asking = false;

const put = (values) => {
  form = { ...form, ...values };
  set({ draft: { ...state.draft, need: MARKS[form.kind].need } });
};

/** Takes the tool in hand: for a new mark, or to place an old one again. */
export function newMark(old = null) {
  again = old;
  if (old) form = { ...form, kind: old.kind, of: old.landmark ?? old.station ?? "", azimuth: old.azimuth_deg ?? null, north: old.north ?? "magnetic", elevation: old.elevation_deg ?? null, by: old.level_by ?? "spirit" };
  set({ tool: "mark", picked: null, draft: { points: [], need: MARKS[form.kind].need } });
}

export function markForm() {
  const about = MARKS[form.kind];
  const points = state.draft?.points ?? [];
  const open = whatIsMissing();
  return [
    h("h2", {}, again ? `Place ${again.landmark ?? again.station ?? again.kind} again` : "A new mark"),
    h("p", { class: "say" }, points.length < about.need ? (points.length ? "Now the second point." : about.say) : (open ?? "It can be saved.")),
    trouble(state.troubles.mark),
    again ? null : field("Kind of mark", { kind: "select", value: form.kind, options: Object.entries(MARKS).map(([code, one]) => [code, one.word]), change: (kind) => put({ kind, of: "" }) }),
    again ? null : details(),
    h("p", { class: "buttons" }, button("Save the mark", save, { class: "main", disabled: points.length < about.need || Boolean(open) }), button("Leave it", () => set({ tool: "look", draft: null, trial: null }), { class: "quiet" })),
  ];
}

function details() {
  const { kind } = form;
  if (kind === "landmark") return landmarkFields();
  if (kind === "station") return field("Station", { kind: "select", value: form.of, options: [["", "choose"], ...items("stations").map((one) => [one.id, one.id])], change: (of) => put({ of }) });
  if (kind === "bearing") {
    return [
      field("Bearing", { kind: "number", value: form.azimuth, unit: "°", change: (azimuth) => put({ azimuth }) }),
      choice("Counted from", form.north, [["magnetic", "magnetic north"], ["true", "true north"]], (north) => put({ north })),
      field("Elevation, if sighted", { kind: "number", value: form.elevation, unit: "°", change: (elevation) => put({ elevation }) }),
    ];
  }
  if (kind === "level") return choice("Level by", form.by, [["spirit", "spirit level"], ["sea", "the sea"]], (by) => put({ by }));
  return null;
}

function landmarkFields() {
  const known = items("landmarks").map((one) => [one.id, one.id]);
  const fresh = !form.of;
  return [
    known.length ? field("Which", { kind: "select", id: "landmark", value: form.of, options: [["", "a new one"], ...known], change: (of) => put({ of }) }) : null,
    fresh ? field("Name", { id: "landmark-name", value: form.name, change: (name) => put({ name }) }) : null,
    fresh ? field("Latitude", { kind: "number", id: "landmark-lat", value: form.latitude, unit: "°", change: (latitude) => put({ latitude }) }) : null,
    fresh ? field("Longitude", { kind: "number", id: "landmark-lon", value: form.longitude, unit: "°", change: (longitude) => put({ longitude }) }) : null,
    fresh ? field("Top above sea, if known", { kind: "number", id: "landmark-top", value: form.top, unit: "m", change: (top) => put({ top }) }) : null,
  ];
}

function whatIsMissing() {
  const { kind } = form;
  if (kind === "landmark" && !form.of) {
    if (!form.name.trim()) return "Say what it is: give it a name.";
    if (form.latitude === null || form.longitude === null) return "Say where it is: latitude and longitude from a map.";
  }
  if (kind === "station" && !form.of) return "Choose the station whose mast it is.";
  if (kind === "bearing" && form.azimuth === null) return "Type the bearing that you sighted.";
  return null;
}

/** The changes that would save the mark as it stands. */
function changes() {
  const { kind } = form;
  const points = (state.draft?.points ?? []).map(([x, y]) => [Number(x.toFixed(2)), Number(y.toFixed(2))]);
  if (again) return [{ do: "patch", list: "marks", id: again.id, fields: again.frame ? { points_px: points, frame: null } : { points_px: points } }];
  const all = [];
  let of = form.of || null;
  if (kind === "landmark" && !of) {
    of = freshId("landmarks", form.name);
    const top = form.top === null ? {} : { top_amsl_m: form.top };
    all.push({ do: "put", list: "landmarks", item: { id: of, latitude_deg: form.latitude, longitude_deg: form.longitude, ...top } });
  }
  const mark = { id: freshId("marks", `${state.view}_${of ?? kind}`), view: state.view, kind, points_px: points };
  if (kind === "landmark") mark.landmark = of;
  if (kind === "station") mark.station = of;
  if (kind === "level") mark.level_by = form.by;
  if (kind === "bearing") Object.assign(mark, { azimuth_deg: form.azimuth, north: form.north }, form.elevation === null ? {} : { elevation_deg: form.elevation });
  return [...all, { do: "put", list: "marks", item: mark }];
}

/** After each placing: a trial of the calibration; saved at once when nothing is missing. */
export function placed(finished) {
  const ready = (state.draft?.points?.length ?? 0) >= MARKS[form.kind].need && !whatIsMissing();
  if (!ready) {
    set({ trial: null });
    return;
  }
  if (finished) save();
  else attempt();
}

async function attempt() {
  if (asking) return;
  asking = true;
  const tried = changes();
  const put = tried.find((one) => one.list === "marks");
  try {
    const { pose } = await post("/api/pose/try", { view: state.view, changes: tried });
    const mark = put.item ?? { ...again, points_px: put.fields.points_px };
    if (state.tool === "mark" && state.draft?.points?.length) set({ trial: { pose, mark } });
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
  } finally {
    setTimeout(() => (asking = false), TRIAL_EVERY_MS);
  }
}

async function save() {
  const all = changes();
  const name = again ? (again.landmark ?? again.kind) : (all.at(-1).item.landmark ?? all.at(-1).item.station ?? form.kind);
  const id = again?.id ?? all.at(-1).item.id;
  set({ draft: { points: [], need: MARKS[form.kind].need }, trial: null });
  const answer = await change(again ? `place ${name} again` : `mark ${name}`, all, { place: "mark" });
  if (!answer) return;
  form = { ...form, of: "", name: "", latitude: null, longitude: null, top: null, azimuth: null, elevation: null };
  again = null;
  // Who has taken another tool meanwhile keeps it.
  if (state.tool === "mark") set({ picked: { list: "marks", id }, tool: "look", draft: null });
}
