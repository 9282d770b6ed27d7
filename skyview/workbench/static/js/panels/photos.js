// Getting in: photographs, the site, spots, station lists; what to do next, step by step.

import { change, sendForm, sendJson, troubleAt } from "../state/changes.js";
import { Trouble, post } from "../state/server.js";
import { freshId, items, set, state, view } from "../state/store.js";
import { linesCaution, roofCaution } from "./cautions.js";
import { button, choice, field, h, progress, trouble } from "./dom.js";
import { leafChoice } from "./layers.js";
import { spotForms } from "./spots.js";
import { spread } from "./words.js";

let place = { latitude: null, longitude: null };
let waiting = null;
let read = null;
let missing = [];
let within = 120;

export function photosPanel() {
  return [
    h("section", { class: "pictures", "aria-label": "Pictures", "data-key": "pictures" }, h("h2", {}, "Pictures"), pictures()),
    h("section", { class: "next", "aria-label": "What to do next", "data-key": "next" }, h("h2", {}, state.open ? "What to do next" : "Where is the roof?"), state.open ? nextSteps() : beginForm(), state.open ? roofAndSpots() : roofCaution()),
    h("section", { class: "set", "aria-label": "Stations and site", "data-key": "site" }, h("h2", {}, "Stations"), stations(), state.open ? siteForm() : null, state.shared ? sharing() : null, theme()),
  ];
}

// --- pictures ---------------------------------------------------------------------------------

export const chooseFile = (id) => document.getElementById(id).click();

const filePicker = (id, accept, take, multiple = false) =>
  h("input", { type: "file", id, accept, multiple, class: "hide", tabindex: "-1", "aria-hidden": "true", onchange: (event) => {
    const files = [...event.target.files];
    event.target.value = "";
    if (files.length) take(files);
  } });

function pictures() {
  const making = Object.values(state.jobs).find((job) => job.kind === "tiles" && job.state === "working");
  return [
    filePicker("photo-file", "image/*,.heic,.heif", addPhotos, true),
    h("ul", { class: "cards" }, items("views").map((one) =>
      h("li", { "data-key": one.id }, h("button", { type: "button", class: "card", "aria-pressed": String(one.id === state.view), onclick: () => set({ view: one.id, picked: null }) }, h("b", {}, one.id), h("span", {}, describe(one)))),
    )),
    h("p", {}, button(items("views").length ? "Add a photo" : "Choose a photo", () => chooseFile("photo-file"), { class: "main" })),
    h("p", { class: "note" }, "Or drop photos and station lists anywhere on this page. They stay on this computer."),
    waiting ? h("p", { class: "progress", role: "status" }, waiting) : null,
    making ? progress("Making the picture ready for close looks", making.share) : null,
    trouble(state.troubles.photo),
    missing.length ? h("div", { class: "told" }, h("p", {}, "The photo does not say:"), h("ul", {}, missing.map((text) => h("li", { "data-key": text }, text)))) : null,
    view() ? viewForm(view()) : null,
  ];
}

const describe = (one) => {
  const sigma = one.calibration?.azimuth_sigma_deg;
  const tied = sigma ? `bearings good to ${spread(sigma)}` : "not tied to the compass yet";
  const frames = one.frames?.filter((frame) => frame.used).length;
  return `${one.size_px[0]} × ${one.size_px[1]}${frames ? ` from ${frames} frames` : ""}, ${tied}`;
};

function viewForm(one) {
  const patch = (words, fields) => change(words, [{ do: "patch", list: "views", id: one.id, fields }], { place: "view" });
  const spots = items("spots").map((spot) => [spot.id, spot.id]);
  return h(
    "div",
    { class: "form", "data-key": `view-${one.id}` },
    h("h3", {}, `Picture ${one.id}`),
    field("Taken at spot", { kind: "select", id: "view-spot", value: one.spot ?? "", options: [["", "elsewhere"], ...spots], change: (spot) => patch(`say where ${one.id} was taken`, { spot: spot || null }) }),
    field("Camera above ground", { kind: "number", id: "view-up", value: one.camera_enu_m[2], unit: "m", change: (up) => up !== null && patch(`set the camera's height of ${one.id}`, { camera_enu_m: [one.camera_enu_m[0], one.camera_enu_m[1], up] }) }),
    field("Taken", { id: "view-taken", value: one.taken ?? "", placeholder: "2026-06-01T14:05:00+00:00", change: (taken) => patch(`set the time of ${one.id}`, { taken: taken || null }) }),
    leafChoice("Trees", one.leaf ?? null, (leaf) => patch(`set the leaves of ${one.id}`, { leaf })),
    trouble(state.troubles.view),
    h("p", {}, button("Remove this picture", () => change(`remove picture ${one.id}`, [{ do: "remove", list: "views", id: one.id, with_users: true }], { place: "view" }), { class: "quiet" })),
  );
}

/** Sends photographs one after the other; the last one comes into view. */
export async function addPhotos(files) {
  for (const [i, file] of files.entries()) {
    waiting = `Reading ${file.name}${files.length > 1 ? ` (${i + 1} of ${files.length})` : ""} …`;
    set({ step: "photos", notices: [...state.notices] });
    const begin = state.open ? {} : { latitude_deg: place.latitude, longitude_deg: place.longitude };
    const answer = await sendForm(`add ${file.name}`, "/api/photos", { file, ...begin }, "photo");
    waiting = null;
    if (answer) {
      missing = answer.missing ?? [];
      set({ view: answer.view, notices: [...state.notices] });
    } else if (!state.open && place.latitude === null) {
      troubleAt("begin", "This photo does not know where it was taken. Type the roof's place here, then add it again.");
    }
  }
  set({ notices: [...state.notices] });
}

// --- where it is, and what comes next ------------------------------------------------------------

function beginForm() {
  const ready = place.latitude !== null && place.longitude !== null;
  const keep = (name) => (value) => {
    place = { ...place, [name]: value };
    set({ notices: [...state.notices] });
  };
  return [
    h("p", { class: "say" }, "A photo that knows its place begins a survey by itself. Otherwise type the place of the roof."),
    field("Latitude", { kind: "number", value: place.latitude, unit: "° north", placeholder: "40.7128", change: keep("latitude") }),
    field("Longitude", { kind: "number", value: place.longitude, unit: "° east", placeholder: "−100.25", change: keep("longitude") }),
    trouble(state.troubles.begin),
    h("p", {}, button("Begin here", () => begin(), { class: "main", disabled: !ready })),
  ];
}

async function begin() {
  troubleAt("begin", null);
  await sendJson("begin a survey", "/api/begin", { latitude_deg: place.latitude, longitude_deg: place.longitude, title: "", ground_amsl_m: null }, "begin");
}

const GO = { views: "photos", marks: "mark", obstructions: "mark", outlines: "mark", stations: "photos", spots: "photos", site: "photos", limits: null };

function nextSteps() {
  const rows = state.next.filter((row) => row.field !== "limits.lines_checked");
  const first = rows.filter((row) => row.severity === "missing");
  const later = rows.filter((row) => row.severity !== "missing");
  const line = (row) => {
    const go = GO[row.field.split(".")[0]];
    return h("li", { "data-key": row.sentence, class: row.severity }, row.sentence, go && go !== "photos" ? button("Go there", () => set({ step: go }), { class: "quiet" }) : null);
  };
  return [
    linesCaution(),
    first.length ? h("ol", { class: "todo" }, first.map(line)) : h("p", { class: "say" }, "Nothing is missing. ", button("See the answer", () => set({ step: "answer" }), { class: "quiet" })),
    later.length ? h("details", {}, h("summary", {}, `${later.length} thing${later.length > 1 ? "s" : ""} would make it better`), h("ul", { class: "todo" }, later.map(line))) : null,
  ];
}

function roofAndSpots() {
  const id = freshId("spots", "spot");
  const camera = view()?.camera_enu_m ?? [0, 0, 7.6];
  const here = camera.map((value, i) => (i === 2 ? Math.max(0, Number((value - 1.6).toFixed(2))) : value));
  return [
    h("h3", {}, "Spots where an antenna may stand"),
    spotForms(field),
    trouble(state.troubles["spots-form"]),
    h("p", {}, button("Add a spot below the camera", () => change(`add spot ${id}`, [{ do: "put", list: "spots", item: { id, enu_m: here, heights_m: [1.5, 3] } }], { place: "spots-form" }), { class: "quiet" })),
    roofCaution(),
  ];
}

// --- stations and the site -------------------------------------------------------------------------

function stations() {
  const all = items("stations");
  const off = !state.open;
  return [
    filePicker("station-file", ".csv,.tsv,.txt,.json,.geojson", ([file]) => addStations(file)),
    all.length
      ? h("details", { "data-key": "stations" }, h("summary", {}, `${all.length} station${all.length > 1 ? "s" : ""}, ${all.filter((one) => one.must_have).length} must-have`), h("ul", { class: "ticks" }, all.map(mustHave)))
      : h("p", { class: "note" }, off ? "A station list can be read once the place of the roof is known." : "No stations yet. Read a list: CSV, TSV or GeoJSON."),
    field("Within", { kind: "number", value: within, unit: "km", change: (value) => (within = value) }),
    h("p", {}, button(all.length ? "Read another list" : "Read a station list", () => chooseFile("station-file"), { class: all.length || off ? "quiet" : "main", disabled: off })),
    trouble(state.troubles.stations),
    read ? readReport() : null,
  ];
}

const mustHave = (one) =>
  h("li", { "data-key": one.id }, field(`${one.id}${one.name ? `, ${one.name}` : ""}, channel ${one.rf_channel}`, {
    kind: "checkbox",
    id: `must-${one.id}`,
    value: one.must_have,
    change: (value) => change(value ? `make ${one.id} a must-have` : `${one.id} is no must-have`, [{ do: "patch", list: "stations", id: one.id, fields: { must_have: value } }], { place: "stations" }),
  }));

function readReport() {
  const bad = read.rejected ?? [];
  return h(
    "div",
    { class: "told" },
    h("p", {}, `${read.kept} of ${read.rows} stations were taken.`),
    bad.length ? h("details", {}, h("summary", {}, `${bad.length} line${bad.length > 1 ? "s" : ""} could not be used`), h("ul", {}, bad.slice(0, 20).map((one) => h("li", {}, `Line ${one.line}, ${one.field}: ${one.reason}`)))) : null,
  );
}

export async function addStations(file) {
  if (!state.open) {
    troubleAt("stations", "First say where the roof is, or add a photo that knows it; then read the list again.");
    return;
  }
  set({ step: "photos" });
  const answer = await sendForm(`read ${file.name}`, "/api/stations", { file, within_km: within }, "stations");
  if (answer) read = answer.read;
  set({ notices: [...state.notices] });
}

function siteForm() {
  const { site } = state.survey ?? {};
  if (!site) return null;
  const put = (words, fields) => change(words, [{ do: "set", part: "site", fields }], { place: "site" });
  const fieldOf = (words, name, unit) => field(words, { kind: "number", id: `site-${name}`, value: site[name], unit, change: (value) => put(`set ${words.toLowerCase()}`, { [name]: value }) });
  return h(
    "details",
    { "data-key": "site" },
    h("summary", {}, "The site"),
    field("Title", { id: "site-title", value: state.survey.title ?? "", change: (value) => change("set the title", [{ do: "set", part: "title", value }], { place: "site" }) }),
    fieldOf("Latitude", "latitude_deg", "°"),
    fieldOf("Longitude", "longitude_deg", "°"),
    fieldOf("Ground above sea", "ground_amsl_m", "m"),
    trouble(state.troubles.site),
  );
}

// --- letting a phone in ------------------------------------------------------------------------------

let invitation = null;

function sharing() {
  return h(
    "details",
    { "data-key": "share" },
    h("summary", {}, "Let a phone in"),
    h("p", { class: "note" }, "A phone on the same network opens this page with a code that works once."),
    h("p", {}, button(invitation ? "Another code" : "Show a code", invite, { class: "quiet" })),
    invitation ? [h("img", { src: invitation.qr_svg, alt: "Code for the phone's camera", class: "code", width: "200", height: "200" }), h("p", { class: "note" }, `${invitation.address} (for ${invitation.minutes} minutes)`)] : null,
    trouble(state.troubles.share),
  );
}

async function invite() {
  try {
    invitation = await post("/api/share", {});
    troubleAt("share", null);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    troubleAt("share", error);
  }
  set({ notices: [...state.notices] });
}

// --- light and dark ----------------------------------------------------------------------------------

export function applyTheme() {
  const kept = localStorage.getItem("skyview-theme");
  const dark = kept ? kept === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  document.documentElement.dataset.theme = dark ? "dark" : "light";
}

function theme() {
  const kept = localStorage.getItem("skyview-theme") ?? "";
  const put = (value) => {
    if (value) localStorage.setItem("skyview-theme", value);
    else localStorage.removeItem("skyview-theme");
    applyTheme();
    set({ notices: [...state.notices] });
  };
  return choice("Page", kept, [["light", "sunlight"], ["dark", "evening"], ["", "device"]], put);
}

