// Puts the page together: the plate, the tools in hand, and the panels of each step.

import { toScreen } from "./geometry.js";
import { Loupe } from "./draw/loupe.js";
import { Plate } from "./draw/plate.js";
import { stationsNow } from "./draw/stations.js";
import { answerPanel, turn } from "./panels/answer.js";
import { fill } from "./panels/dom.js";
import { bar, blank, caption, describe, notices, readout, speak, steps, tools } from "./panels/frame.js";
import { markPanel, saveOutline } from "./panels/mark.js";
import { placed } from "./panels/marking.js";
import { find } from "./panels/skyline.js";
import { Mast } from "./panels/mast.js";
import { addPhotos, addStations, applyTheme, photosPanel } from "./panels/photos.js";
import { spotsPanel } from "./panels/spots.js";
import { change, notice, redo, undo } from "./state/changes.js";
import { begin } from "./state/loads.js";
import { Trouble } from "./state/server.js";
import { on, set, state } from "./state/store.js";
import { dropOldStrokes, isStroke } from "./state/strokes.js";
import { Aim } from "./tools/aim.js";
import { Edit } from "./tools/edit.js";
import { Gestures } from "./tools/gestures.js";
import { Corners, Freehand } from "./tools/outline.js";
import { Place } from "./tools/place.js";
import { Stroke } from "./tools/stroke.js";

const at = (id) => document.getElementById(id);

if (location.search) history.replaceState(null, "", location.pathname);
applyTheme();
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", applyTheme);

const plate = new Plate({ box: at("plate"), canvas: at("photo"), overlay: at("overlay"), border: at("border"), pattern: at("pattern") });
const loupe = new Loupe(at("loupe"), at("loupe-canvas"), plate.tiles);
const gestures = new Gestures(at("overlay"), plate);

const thing = () => state.draft?.thing ?? null;
const saveRings = (outline, rings, words) => {
  if (!outline) return;
  const kept = rings.map((ring) => ring.map(([x, y]) => [Number(x.toFixed(1)), Number(y.toFixed(1))]));
  change(`${words} of ${outline.obstruction}`, [{ do: "patch", list: "outlines", id: outline.id, fields: { rings_px: kept } }], { place: "mark" });
};
const edit = new Edit(plate, gestures, loupe, saveRings);
let chosenThing = null;
on("draft", () => (chosenThing = thing() ?? (state.tool === "corners" ? chosenThing : null)));
const corners = new Corners(loupe, (points) => saveOutline(points, chosenThing));
const kit = { look: edit, mark: new Place(loupe, placed), corners, freehand: new Freehand((points) => saveOutline(points, chosenThing)), sky: new Stroke("sky", find), solid: new Stroke("solid", find) };
new Aim([at("border"), at("pattern")], turn, (azimuth) => azimuth !== null && gestures.bring(plate.bring(azimuth)));
new Mast(at("mast"));

const local = {
  drawing: () => state.tool === "corners" && Boolean(state.draft?.points?.length || corners.undone.length),
  back: () => state.tool === "corners" && corners.back(),
  forth: () => state.tool === "corners" && corners.forth(),
};

// --- what is drawn when ---------------------------------------------------------------------------

const PANELS = { photos: photosPanel, mark: markPanel, answer: answerPanel, spots: spotsPanel };

let pressed = false;
let owed = false;

/** The panels; while a button of theirs is pressed they wait, so that no press is lost or misled. */
function work() {
  owed = pressed;
  if (pressed) return;
  document.body.dataset.step = state.step;
  fill(at("work"), PANELS[state.step](kit));
}

at("work").addEventListener("pointerdown", (event) => (pressed = Boolean(event.target.closest("button"))));
for (const over of ["pointerup", "pointercancel"]) {
  // The click comes right after.
  addEventListener(over, () => setTimeout(() => ((pressed = false), owed && work())), true);
}

on("ready step survey view picked tool draft trial pose proposals next jobs troubles notices height heights paths why station leaf spot lossShown loss aim pattern spots snapping strokes angles open aims ground groundShown revision saved", work);
on("ready step", () => steps(at("steps")));
on("ready survey history saved open revision draft tool", () => bar({ title: at("title"), hands: at("hands"), saved: at("saved") }, local));
on("notices conflict", () => notices(at("notices")));
on("ready step tool picked draft view survey", () => tools(at("tools")));
on("ready step view survey spot height", () => caption(at("caption")));
on("hover cursor angles frame", () => readout(at("readout"), plate));
on("ready view survey open", () => blank(at("blank")));
on("ready view step paths station", () => describe(at("plate-words")));
on("tool ready", () => gestures.use(kit[state.tool]));
on("picture", dropOldStrokes);
on("step", () => window.scrollTo(0, 0));
on("picked tool", () => matchMedia("(max-width: 640px)").matches && window.scrollTo(0, 0));
on("picked", () => {
  if (state.picked?.list !== "outlines" && state.draft?.outline) set({ draft: null });
});
on("height heights station aim", later(() => speak(at("said"), stationsNow()), 400));

function later(run, wait) {
  let timer = null;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(run, wait);
  };
}

on("station", () => {
  const place = stationsNow().find((row) => row.station === state.station)?.place;
  if (!place || place.inside === false || !state.frame) return;
  const [x] = toScreen(state.frame, [place.x_px, place.y_px]);
  if (x < 20 || x > state.frame.width - 20) gestures.bring([place.x_px, place.y_px]);
});
document.addEventListener("skyview:bring", (event) => gestures.show(event.detail));
for (const [id, act] of [["zoom-in", () => gestures.zoom(1.4)], ["zoom-out", () => gestures.zoom(1 / 1.4)], ["zoom-whole", () => gestures.whole()]]) {
  at(id).addEventListener("click", () => state.frame && act());
}

// --- keys of the whole page, and dropped files -----------------------------------------------------

document.addEventListener("keydown", (event) => {
  const typing = ["INPUT", "TEXTAREA", "SELECT"].includes(document.activeElement?.nodeName);
  if (event.key === "Escape" && !typing && isStroke(state.tool)) set({ tool: "look", draft: null });
  if (typing || !(event.ctrlKey || event.metaKey)) return;
  const key = event.key.toLowerCase();
  if (key !== "z" && key !== "y") return;
  event.preventDefault();
  if (key === "y" || event.shiftKey) local.forth() || redo();
  else local.back() || undo();
});

const LISTS = /\.(csv|tsv|txt|json|geojson)$/i;

function take(files) {
  const lists = files.filter((file) => LISTS.test(file.name));
  const photos = files.filter((file) => !LISTS.test(file.name));
  if (photos.length) addPhotos(photos).then(() => lists.forEach(addStations));
  else lists.forEach(addStations);
}

document.addEventListener("dragover", (event) => {
  event.preventDefault();
  document.body.classList.add("dropping");
});
document.addEventListener("dragleave", (event) => event.relatedTarget || document.body.classList.remove("dropping"));
document.addEventListener("drop", (event) => {
  event.preventDefault();
  document.body.classList.remove("dropping");
  take([...event.dataTransfer.files]);
});

window.addEventListener("unhandledrejection", (event) => {
  if (!(event.reason instanceof Trouble)) return;
  event.preventDefault();
  notice(event.reason.text);
});

begin().catch((error) => {
  set({ ready: true });
  notice(error instanceof Trouble ? error.text : String(error));
});
