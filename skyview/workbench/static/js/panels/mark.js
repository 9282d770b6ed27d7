// Marking: what is tapped becomes a mark or an outline; what is in hand stands here with its words.

import { change } from "../state/changes.js";
import { freshId, item, items, marksOfView, outlinesOfView, set, state, thingOf, view } from "../state/store.js";
import { isStroke } from "../state/strokes.js";
import { linesCaution } from "./cautions.js";
import { button, choice, field, h, trouble } from "./dom.js";
import { markForm, newMark } from "./marking.js";
import { MEASURED, UNKNOWN, kindFacts, kindWord, kinds, metres, number, spread } from "./words.js";
import { groundChoice, leafChoice } from "./layers.js";
import { skyline, teaching } from "./skyline.js";

export function markPanel(kit) {
  if (!view()) return [h("section", { class: "one", "data-key": "none" }, h("h2", {}, "Nothing to mark yet"), h("p", { class: "say" }, "There is no picture yet. Add one under Photos."))];
  return [
    h("section", { class: "lists", "aria-label": "Marks and outlines", "data-key": "lists" }, lists()),
    h("section", { class: "held", "aria-label": "In hand", "data-key": "held" }, inHand(kit)),
    h("section", { class: "set", "aria-label": "Calibration and skyline", "data-key": "pose" }, poseSection(), skyline(), linesCaution()),
  ];
}

// --- the lists, which a screen reader reads instead of the picture -----------------------------------

function lists() {
  const pick = (list, id, point) => () => {
    set({ tool: "look", picked: { list, id }, draft: null });
    document.dispatchEvent(new CustomEvent("skyview:bring", { detail: point }));
  };
  const row = (list, one, head, rest, point) =>
    h("li", { "data-key": `${list}${one.id}` }, h("button", { type: "button", class: "card", "aria-pressed": String(state.picked?.list === list && state.picked.id === one.id), onclick: pick(list, one.id, point) }, h("b", {}, head), h("span", {}, rest)));
  const residuals = new Map((state.pose?.residuals ?? []).map((one) => [one.mark, one]));
  const marks = marksOfView();
  const outlines = outlinesOfView();
  return [
    items("views").length > 1 ? choice("Picture", state.view, items("views").map((one) => [one.id, one.id]), (id) => set({ view: id, picked: null, draft: null })) : null,
    h("h2", {}, "Marks"),
    marks.length ? h("ul", { class: "cards" }, marks.map((one) => row("marks", one, one.landmark ?? one.station ?? one.kind, offBy(residuals.get(one.id)), one.points_px))) : h("p", { class: "note" }, "None yet. Two landmarks far apart tie the picture to the compass."),
    h("h2", {}, "Outlines"),
    outlines.length ? h("ul", { class: "cards" }, outlines.map((one) => row("outlines", one, one.obstruction, about(thingOf(one)), one.rings_px[0]))) : h("p", { class: "note" }, "None yet. Outline what stands above the level line where a station may lie."),
  ];
}

const about = (thing) => (thing ? `${kindWord(thing.kind)}, ${thing.distance_m ? metres(thing.distance_m) : thing.line_enu_m ? "its course is known" : "distance not known"}` : "");

function offBy(residual) {
  if (!residual) return "";
  const parts = [residual.azimuth_residual_deg, residual.elevation_residual_deg].map((deg) => (deg === null ? null : `${number(deg, 2, true)}°`));
  const words = [parts[0] && `${parts[0]} across`, parts[1] && `${parts[1]} up`].filter(Boolean).join(", ");
  return residual.trust !== null && residual.trust < 0.5 ? `${words}: does not fit the others` : words;
}

// --- what is in hand ------------------------------------------------------------------------------

function inHand(kit) {
  if (state.tool === "mark") return markForm();
  if (state.tool === "corners" || state.tool === "freehand") return drawing(kit);
  if (isStroke(state.tool)) return teaching();
  if (state.picked?.list === "marks") return markInHand(item("marks", state.picked.id));
  if (state.picked?.list === "outlines") return outlineInHand(item("outlines", state.picked.id), kit.look);
  return [
    h("h2", {}, "Nothing in hand"),
    h("p", { class: "say" }, marksOfView().length ? "Tap a mark or an outline to take it in hand, or take a tool." : "Take Landmark, then tap something in the picture whose place you know."),
    trouble(state.troubles.mark),
  ];
}

function drawing(kit) {
  const count = state.draft?.points?.length ?? 0;
  const elsewhere = items("obstructions").filter((thing) => !outlinesOfView().some((one) => one.obstruction === thing.id));
  return [
    h("h2", {}, "A new outline"),
    h("p", { class: "say" }, state.tool === "freehand" ? "Draw round the thing in one stroke; lifting closes it." : count < 3 ? "Tap along its edge against the sky; then down to where it stands." : "Tap the first corner again, or press Close the shape."),
    state.tool === "corners" ? h("p", { class: "buttons" }, button("Close the shape", () => kit.corners.finish(), { class: "main", disabled: count < 3 }), button("Undo the last corner", () => kit.corners.back(), { class: "quiet", disabled: !count })) : null,
    elsewhere.length ? field("It is", { kind: "select", id: "draft-thing", value: state.draft?.thing ?? "", options: [["", "something new"], ...elsewhere.map((thing) => [thing.id, `${thing.id} (${kindWord(thing.kind)})`])], change: (thing) => set({ draft: { ...(state.draft ?? { points: [] }), thing: thing || null } }) }) : null,
    field("Snap to the proposed skyline", { kind: "checkbox", id: "snap", value: state.snapping, change: (snapping) => set({ snapping }) }),
    trouble(state.troubles.mark),
  ];
}

/** Saves a finished ring as an outline of something new, or of something drawn in another view. */
export async function saveOutline(points, thing) {
  const id = freshId("outlines", `${thing ?? "shape"}_${state.view}`);
  const changes = [];
  let name = thing;
  if (!thing) {
    name = freshId("obstructions", "tree");
    changes.push({ do: "put", list: "obstructions", item: { id: name, kind: "tree", kind_by: "guess", distance_from: state.view } });
  }
  const ring = points.map(([x, y]) => [Number(x.toFixed(1)), Number(y.toFixed(1))]);
  changes.push({ do: "put", list: "outlines", item: { id, obstruction: name, view: state.view, by: "hand", rings_px: [ring], reaches_ground: true } });
  set({ tool: "look", draft: null, picked: { list: "outlines", id } });
  await change(`outline ${name}`, changes, { place: "mark" });
}

function outlineInHand(outline, edit) {
  const thing = outline && thingOf(outline);
  if (!thing) return [h("h2", {}, "Nothing in hand")];
  const patch = (words, fields) => change(words, [{ do: "patch", list: "obstructions", id: thing.id, fields }], { place: "mark" });
  const own = (words, fields) => change(words, [{ do: "patch", list: "outlines", id: outline.id, fields }], { place: "mark" });
  const tree = kindFacts(thing.kind)?.family === "tree";
  const others = items("outlines").filter((one) => one.obstruction === thing.id && one.id !== outline.id).map((one) => one.view);
  return [
    h("h2", {}, thing.id),
    trouble(state.troubles.mark),
    thing.kind === "power_line" ? linesCaution() : null,
    cornerButtons(edit),
    field("Kind", { kind: "select", value: thing.kind, options: kinds(), change: (kind) => patch(`${thing.id} is a ${kindWord(kind)}`, { kind, kind_by: "hand" }) }),
    field("Distance", { kind: "number", value: thing.distance_m, unit: "m", change: (distance) => patch(`set the distance of ${thing.id}`, { distance_m: distance, distance_from: thing.distance_from ?? outline.view }) }),
    field("give or take", { kind: "number", value: thing.distance_sigma_m, unit: "m", change: (sigma) => patch(`set the spread of ${thing.id}`, { distance_sigma_m: sigma }) }),
    field("Measured by", { kind: "select", value: thing.distance_by ?? "", options: known(thing.distance_by), change: (by) => patch(`say how ${thing.id} was measured`, { distance_by: by || null }) }),
    tree ? leafChoice("In this picture", view().leaf ?? null, (leaf) => change(`set the leaves of ${outline.view}`, [{ do: "patch", list: "views", id: outline.view, fields: { leaf } }], { place: "mark" })) : null,
    field("Goes on down to the ground", { kind: "checkbox", id: "reaches-ground", value: outline.reaches_ground, change: (value) => own(`${thing.id} ${value ? "reaches" : "does not reach"} the ground`, { reaches_ground: value }) }),
    h("p", { class: "note" }, others.length ? `Also drawn in ${others.join(", ")}; both together give its place.` : `${outline.rings_px[0].length} corners. Drag one, tap an edge to put one in.`),
    link(outline, thing),
    h("p", {}, button("Remove this outline", () => removeOutline(outline, thing, others), { class: "quiet" })),
  ];
}

/** Corners without dragging: step to one, then tap its new place, or take it away. */
function cornerButtons(edit) {
  const corner = state.draft?.outline && state.draft.corner;
  return h(
    "p",
    { class: "buttons", role: "group", "aria-label": "Corners" },
    button("‹", () => edit.step(-1), { class: "quiet", "aria-label": "Previous corner" }),
    button("›", () => edit.step(1), { class: "quiet", "aria-label": "Next corner" }),
    button(state.draft?.moving ? "Tap its new place" : "Move corner", () => set({ draft: { ...state.draft, moving: true } }), { class: "quiet", disabled: !corner }),
    button("Remove corner", () => edit.erase(), { class: "quiet", disabled: !corner }),
  );
}

const known = (value) => (value && !MEASURED.some(([code]) => code === value) ? [...MEASURED, [value, value]] : MEASURED);

/** The same thing drawn in another view: this outline is then its second shape. */
function link(outline, thing) {
  const here = new Set(outlinesOfView().map((one) => one.obstruction));
  const elsewhere = items("obstructions").filter((one) => one.id !== thing.id && !here.has(one.id));
  if (!elsewhere.length) return null;
  const join = (id) => {
    const alone = !items("outlines").some((one) => one.obstruction === thing.id && one.id !== outline.id);
    const changes = [{ do: "patch", list: "outlines", id: outline.id, fields: { obstruction: id } }];
    if (alone) changes.push({ do: "remove", list: "obstructions", id: thing.id, with_users: false });
    if (id) change(`${thing.id} is ${id}`, changes, { place: "mark" });
  };
  return field("The same thing as", { kind: "select", id: "same-thing", value: "", options: [["", "nothing yet"], ...elsewhere.map((one) => [one.id, one.id])], change: join });
}

function removeOutline(outline, thing, others) {
  const changes = others.length ? [{ do: "remove", list: "outlines", id: outline.id, with_users: false }] : [{ do: "remove", list: "obstructions", id: thing.id, with_users: true }];
  set({ picked: null, draft: null });
  change(`remove the outline of ${thing.id}`, changes, { place: "mark" });
}

function markInHand(mark) {
  if (!mark) return [h("h2", {}, "Nothing in hand")];
  const residual = state.pose?.residuals?.find((one) => one.mark === mark.id);
  return [
    h("h2", {}, mark.landmark ?? mark.station ?? mark.kind),
    trouble(state.troubles.mark),
    h("p", { class: "say" }, residual ? `The calibration puts it ${offBy(residual) || "on its line"} from where you set it. The arrow is drawn ten times as long.` : "It waits for a calibration."),
    field("Good to", { kind: "number", id: "mark-sigma", value: mark.sigma_px ?? 2, unit: "px", change: (value) => value && change(`set the spread of ${mark.id}`, [{ do: "patch", list: "marks", id: mark.id, fields: { sigma_px: value } }], { place: "mark" }) }),
    h("p", { class: "buttons" }, button("Place it again", () => newMark(mark)), button("Remove this mark", () => {
      set({ picked: null });
      change(`remove mark ${mark.id}`, [{ do: "remove", list: "marks", id: mark.id, with_users: false }], { place: "mark" });
    }, { class: "quiet" })),
  ];
}

// --- calibration ----------------------------------------------------------------------------------

function poseSection() {
  const { pose } = state;
  if (!pose) return null;
  const good = pose.calibrated && pose.azimuth_sigma_deg !== null;
  return [
    h("h2", {}, "The compass"),
    h("p", { class: "say", role: "status" }, good ? `Bearings good to ${spread(pose.azimuth_sigma_deg)}, elevations to ${spread(pose.elevation_sigma_deg ?? 0)}.` : `Where this picture looks is ${UNKNOWN}.`),
    pose.residuals?.some((one) => one.to_px) ? h("p", { class: "note" }, "Arrows: from where you set a mark to where the calibration puts it, ten times as long. The band on the level line is as wide as the calibration leaves it open.") : null,
    pose.sentences.length ? h("ul", { class: "told" }, pose.sentences.map((text) => h("li", { "data-key": text }, text))) : null,
    groundChoice(),
    trouble(state.troubles.pose),
  ];
}
