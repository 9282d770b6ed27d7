// What the page asks the server for, and when it asks again.

import { hearRevision, reload, takeUpUnsent, troubleAt } from "./changes.js";
import { Trouble, get } from "./server.js";
import { antennaOfSpot, item, items, on, set, state } from "./store.js";

const asked = new Map();

/** Asks once for what `key` names; a newer question of the same name ends the older one. */
async function load(name, path, query, { place = name, keep = true } = {}) {
  const key = JSON.stringify([path, query, state.revision]);
  const last = asked.get(name);
  if (last?.key === key) return;
  last?.stop.abort();
  const stop = new AbortController();
  asked.set(name, { key, stop });
  if (!keep) set({ [name]: null });
  try {
    const answer = await get(path, query, stop.signal);
    if (asked.get(name)?.key !== key) return;
    set({ [name]: answer.rows && name === "next" ? answer.rows : answer });
    troubleAt(place, null);
  } catch (trouble) {
    if (trouble.name === "AbortError") return;
    asked.delete(name);
    if (!(trouble instanceof Trouble)) throw trouble;
    if (!trouble.unreachable) troubleAt(place, trouble);
  }
}

const forget = (...names) => names.forEach((name) => asked.delete(name));

// --- the user's place: a lawful choice of view, spot, height ---------------------------------

function settleChoices() {
  if (!state.survey) return;
  const values = {};
  if (!item("views", state.view)) values.view = items("views")[0]?.id ?? null;
  if (!item("spots", state.spot)) {
    const antenna = items("antennas").find((one) => item("spots", one.spot) && typeof one.height_m === "number");
    const spot = item("spots", antenna?.spot) ?? items("spots")[0];
    values.spot = spot?.id ?? null;
    if (spot) values.height = antenna?.height_m ?? Math.max(...(spot.heights_m?.length ? spot.heights_m : [3]));
  }
  if (state.station && !item("stations", state.station)) values.station = null;
  set(values);
}

function loadView() {
  const { view } = state;
  if (!view) {
    set({ picture: null, angles: null, pose: null, proposals: null, ground: null });
    return;
  }
  for (const name of ["picture", "angles", "pose", "proposals", "ground"]) if (state[name] && state[name].view !== view) set({ [name]: null });
  load("picture", "/api/picture", { view });
  load("angles", "/api/angles", { view });
  load("pose", "/api/pose", { view });
  if (state.step === "mark") load("proposals", "/api/proposals", { view });
}

const answering = () => (state.step === "answer" || state.step === "spots") && state.spot && state.view;

/** The view that the answer is drawn on: the one in hand. */
const place = () => ({ spot: state.spot, leaf: state.leaf, view: state.view });

function loadHeights() {
  if (!answering() || !items("stations").length) return;
  load("heights", "/api/heights", { ...place(), near_m: state.height, top_m: topHeight() }, { place: "answer" });
}

export const topHeight = () => Math.max(6, Math.ceil(state.survey?.limits?.unguyed_mast_m ?? 0) + 3);

function loadAnswer() {
  if (!answering()) return;
  load("paths", "/api/paths", { ...place(), height_m: state.height }, { place: "answer" });
  load("pattern", "/api/pattern", { antenna: antennaOfSpot()?.id ?? "" }, { place: "aim" });
  const antenna = state.step === "answer" && antennaOfSpot();
  if (antenna) load("aims", "/api/aims", { spot: state.spot, leaf: state.leaf, height_m: state.height, antenna: antenna.id }, { place: "aim" });
  if (state.station) {
    load("why", "/api/why", { spot: state.spot, height_m: state.height, station: state.station, leaf: state.leaf }, { place: "why" });
  }
}

function loadLoss() {
  if (!state.lossShown || state.step !== "answer" || !state.spot) return;
  const channel = state.lossChannel ?? item("stations", state.station)?.rf_channel ?? items("stations")[0]?.rf_channel;
  if (channel) load("loss", "/api/loss", { ...place(), height_m: state.height, channel }, { place: "loss" });
}

/** The terrain's skyline: from the antenna where the answer is shown, else from the camera. */
function loadGround() {
  if (!state.survey?.site?.terrain || !state.view || !state.groundShown) return;
  const antenna = answering() ? { spot: state.spot, height_m: state.height } : {};
  load("ground", "/api/ground", { view: state.view, ...antenna }, { place: "ground" });
}

function loadSpots() {
  if (state.step === "spots" && items("stations").length) load("spots", "/api/spots", { leaf: state.leaf }, { place: "spots" });
}

const loadNext = () => state.open && load("next", "/api/next", {});

/** Once the hand rests, so that a moving slider asks nothing. */
function rested(run, wait) {
  let timer = null;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(run, wait);
  };
}

// --- events ------------------------------------------------------------------------------------

function hearJob(job) {
  set({ jobs: { ...state.jobs, [job.id]: job } });
  const over = job.state === "done" || job.state === "failed";
  if (job.state === "failed") troubleAt({ heights: "answer", tiles: "photo" }[job.kind] ?? job.kind, job.error && new Trouble(500, job.error));
  const again = {
    tiles: () => (forget("picture"), loadView()),
    heights: () => (forget("heights"), loadHeights()),
    loss: () => (forget("loss"), loadLoss()),
    why: () => (forget("why"), loadAnswer()),
    spots: () => (forget("spots"), loadSpots()),
    skyline: () => (forget("proposals"), loadView()),
  }[job.kind];
  if (again && (over || job.kind === "heights")) again();
}

function listen() {
  const events = new EventSource("/api/events");
  const data = (hear) => (event) => hear(JSON.parse(event.data));
  events.addEventListener("hello", data(({ revision, history, jobs }) => {
    set({ history, jobs: Object.fromEntries((jobs ?? []).map((job) => [job.id, job])) });
    if (revision > state.revision) hearRevision({ revision, by: null, label: null, history });
    if (state.saved === "silent") set({ saved: "saved" });
  }));
  events.addEventListener("revision", data(hearRevision));
  events.addEventListener("job", data(hearJob));
  events.addEventListener("error", () => state.saved === "saved" && set({ saved: "silent" }));
}

/** Begins: the state, the survey if there is one, and what follows from each later change. */
export async function begin() {
  const start = await get("/api/state");
  set({ program: start.program, shared: start.shared, open: start.open, history: start.history ?? state.history });
  set({ words: await get("/api/words") });
  if (start.open) await reload();
  settleChoices();
  on("survey", settleChoices);
  on("view revision step open", loadView);
  on("revision step spot leaf view", loadHeights);
  on("revision step spot leaf view station", loadAnswer);
  on("height", rested(loadAnswer, 180));
  on("height", rested(loadLoss, 300));
  on("height", rested(loadGround, 300));
  on("revision step spot view groundShown", loadGround);
  on("revision step spot leaf view lossShown lossChannel station", loadLoss);
  on("revision step leaf", loadSpots);
  on("revision open", loadNext);
  listen();
  set({ ready: true });
  loadView();
  loadNext();
  takeUpUnsent();
}
