// What stands round the work in every step: the bar, the tools under the picture, what the page
// has to say, and the read-out upon the plate.

import { dismiss, redo, settleConflict, undo } from "../state/changes.js";
import { antennaOfSpot, items, set, state, view } from "../state/store.js";
import { chooseFile } from "./photos.js";
import { newMark } from "./marking.js";
import { button, fill, h } from "./dom.js";
import { number } from "./words.js";

export const STEPS = [["photos", "Photos"], ["mark", "Mark"], ["answer", "Answer"], ["spots", "Spots"]];

const SAVED = {
  saved: () => (state.open ? ["Saved", `, revision ${state.revision}`] : ["", "Nothing to save yet"]),
  saving: () => ["Saving …"],
  waiting: () => ["Not saved yet: the program does not answer. Trying again."],
  asking: () => ["Waiting for your word"],
  silent: () => ["The program does not answer"],
};

export function steps(place) {
  fill(place, STEPS.map(([code, words]) => h("button", { type: "button", "data-key": code, "aria-current": state.step === code ? "page" : null, onclick: () => set({ step: code, tool: "look", draft: null, picked: null }) }, words)));
}

export function bar({ title, hands, saved }, local) {
  fill(title, state.survey?.title || (state.open ? "Survey without a title" : "No survey yet"));
  document.title = state.survey?.title ? `${state.survey.title}, skyview` : "skyview";
  const { undo: back, redo: forth } = state.history ?? {};
  const drawing = local.drawing();
  fill(
    hands,
    button("↶", () => local.back() || undo(), { class: "hand", disabled: !back && !drawing, "aria-label": drawing ? "Undo the last corner" : back ? `Undo: ${back.label}` : "Nothing to undo", title: back ? `Undo: ${back.label}` : "Nothing to undo" }),
    button("↷", () => local.forth() || redo(), { class: "hand", disabled: !forth && !drawing, "aria-label": drawing ? "Redo the corner" : forth ? `Redo: ${forth.label}` : "Nothing to redo", title: forth ? `Redo: ${forth.label}` : "Nothing to redo" }),
  );
  const [short, more] = SAVED[state.saved]();
  fill(saved, short, more ? h("span", { class: "wide" }, more) : null);
  saved.classList.toggle("urgent", state.saved === "waiting" || state.saved === "silent");
}

/** Notes, and a conflict that waits for the user's word; both stand right under the picture. */
export function notices(place) {
  const { conflict } = state;
  fill(
    place,
    conflict
      ? h(
          "div",
          { class: "notice conflict", role: "alertdialog", "aria-label": "Two pages changed the same thing", "data-key": "conflict" },
          h("p", {}, h("b", {}, `Another page changed ${conflict.things.join(", ")} meanwhile.`), ` Your “${conflict.label}” is kept here and not lost. Which shall stand?`),
          h("p", { class: "buttons" }, button("Mine", () => settleConflict(true), { class: "main" }), button("The other page's", () => settleConflict(false))),
        )
      : null,
    state.notices.map((one) => h("div", { class: "notice", "data-key": String(one.id) }, h("p", {}, one.text), button("×", () => dismiss(one.id), { class: "close", "aria-label": "Close this note" }))),
  );
}

/** The tools of marking, in one row under the picture. */
export function tools(place) {
  const tool = (code, words, take) => button(words, take ?? (() => set({ tool: code, picked: null, draft: code === "look" ? null : { points: [] } })), { class: "tool", "aria-pressed": String(state.tool === code), "data-key": code });
  place.hidden = state.step !== "mark" || !view();
  if (place.hidden) return;
  fill(place, tool("look", "Look"), tool("mark", "Landmark", () => newMark()), tool("corners", "Outline"), tool("freehand", "Freehand"));
}

/** A line under the picture where nothing else stands: what it is. */
export function caption(place) {
  const one = view();
  const antenna = antennaOfSpot();
  place.hidden = state.step === "mark" || !one || (state.step === "answer" && typeof antenna?.aim_true_deg === "number");
  if (place.hidden) return;
  const taken = one.taken ? `, taken ${new Date(one.taken).toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" })}` : "";
  const leaves = one.leaf ? `, trees ${one.leaf === "in" ? "in leaf" : "out of leaf"}` : "";
  const told = {
    photos: `${one.id}${taken}${leaves}, the camera ${number(one.camera_enu_m[2], 1)} m up`,
    answer: antenna ? "The antenna points nowhere yet: point it below, then turn it here." : items("antennas").length ? "No antenna stands here: reception is told as if that of another spot were moved here." : "No antenna is described yet: reception is told for one turned to each station in turn.",
    spots: `What an antenna sees from ${state.spot}, ${number(state.height, 1)} m up`,
  }[state.step];
  fill(place, told);
}

/** The direction under the pointer with its sigma; what is written on the plate gives way to it. */
export function readout(place, plate) {
  const point = state.hover ?? state.cursor;
  const said = point && state.frame && plate.readout(point);
  if (place.hidden === Boolean(said)) plate.soon();
  place.hidden = !said;
  if (!said) return;
  fill(place, h("b", {}, said.bearing), h("span", { class: "wide" }, " true"), said.magnetic ? h("span", { class: "faint" }, said.magnetic) : null, h("b", {}, said.elevation));
}

/** What the blank plate says, and its one button. */
export function blank(place) {
  const empty = !state.view || !items("views").length;
  place.hidden = !state.ready || !empty;
  if (place.hidden) return;
  fill(place, h("p", { class: "say" }, "Begin with the view from the roof: one photo or a panorama."), button("Choose a photo", () => chooseFile("photo-file"), { class: "main" }), h("p", { class: "note" }, "Take it from where it is allowed and held; no picture is worth the roof's edge."));
}

/** The plate in words: what a screen reader hears on coming to it. */
export function describe(element) {
  const title = view() ? `Picture ${state.view}. ` : "No picture yet. ";
  const rows = state.step === "answer" ? (state.paths?.rows ?? []) : [];
  const stations = rows.length ? `${rows.length} stations; the list below says the same in words. ` : "";
  const held = rows.find((row) => row.station === state.station);
  element.textContent = `${title}${stations}${held ? `Chosen: ${held.station}. ` : ""}Arrow keys move the picture, plus and minus zoom, 0 shows the whole, N turns to north. With a tool in hand the arrow keys move a crosshair and Enter places a point.`;
}

let said = "";

/** Says aloud what a lift of the mast or a turn of the antenna does to the chosen station. */
export function speak(element, rows) {
  const row = rows.find((one) => one.station === state.station);
  const where = state.aim === null ? `At ${number(state.height, 2)} metres` : `Aimed at ${number(state.aim)}°`;
  const text = row ? `${where} ${row.station}: ${row.word}${row.reception ? `, ${row.reception}` : ""}.` : "";
  if (text !== said) element.textContent = text;
  said = text;
}
