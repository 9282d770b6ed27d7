// The stations on the plate: mark, pole, tag, first Fresnel zone, and the chips at the edges for
// those that lie outside.

import { interpolate, nearestIndex, toScreen } from "../geometry.js";
import { aimsNow, headingAhead, heightsNow, state } from "../state/store.js";
import { loop, mark, pole, wordClass } from "./marks.js";
import { s, text, touches, widthOf } from "./svg.js";
import { placeTags } from "./tags.js";

const RADIUS = 11;
const SANS = '"Noto Sans", sans-serif';
let hung = new Map();

/** The program's word for a path. */
export const wordOf = (path) => state.words?.paths.find((one) => one.path === path)?.word ?? path;

let last = { key: [], rows: [] };

/** Every station as it stands at the height in hand: from the table where it is ready. */
export function stationsNow() {
  const key = [state.paths, heightsNow(), state.height, state.view];
  const turn = [aimsNow(), headingAhead()];
  const whole = [...key, ...turn];
  if (whole.some((value, i) => value !== last.key[i])) last = { key: whole, rows: rowsAt(...key).map((row) => turned(row, ...turn)) };
  return last.rows;
}

function rowsAt(paths, table, height, view) {
  const usable = table && table.spot === paths?.spot && table.leaf === paths?.leaf;
  const elsewhere = paths?.view !== view;
  return (paths?.rows ?? []).map((found) => {
    const row = elsewhere ? { ...found, place: null, fresnel: null } : found;
    const column = usable ? table.stations.indexOf(row.station) : -1;
    const at = usable ? nearestIndex(table.heights_m, height) : -1;
    const exact = Math.abs(paths.height_m - height) < 1e-6;
    if (exact || column < 0 || !table.ready[at]) return { ...row, fresh: exact };
    const over = (values) => interpolate(table.heights_m, values.map((line) => line?.[column] ?? null), height);
    const path = table.path[at][column];
    return {
      ...row,
      fresh: true,
      path,
      word: wordOf(path),
      reception: table.reception[at]?.[column] ?? null,
      beyond_horizon: table.beyond_horizon[at]?.[column] ?? row.beyond_horizon,
      unseen_behind: table.unseen_behind[at]?.[column] ?? row.unseen_behind,
      obstruction: table.obstruction[at]?.[column] ?? null,
      obstruction_loss_db: table.obstruction_loss_db[at]?.[column] ?? null,
      loss_at_least: table.loss_at_least[at]?.[column] ?? false,
      margin_db: marginAt(table, at, column),
      margin_text: null,
      chances: null,
      loss_text: null,
      place: row.place && over(table.x_px) !== null ? { ...row.place, x_px: over(table.x_px), y_px: over(table.y_px) } : row.place,
      fresnel: zone(table, column, over, row),
    };
  });
}

/** A row as the antenna hears it at a heading that the server has not answered for yet. */
function turned(row, table, heading) {
  const column = table && heading !== null ? table.stations.indexOf(row.station) : -1;
  if (column < 0) return row;
  const at = Math.round(heading) % table.headings_deg.length;
  return {
    ...row,
    reception: table.reception[at][column],
    reception_probability: table.reception_probability[at][column],
    margin_db: marginAt(table, at, column),
    margin_text: null,
    chances: null,
  };
}

function marginAt(table, at, column) {
  const [p10, p50, p90] = ["p10", "p50", "p90"].map((name) => table[`margin_${name}_db`]?.[at]?.[column] ?? null);
  return p50 === null ? null : { p10, p50, p90 };
}

function zone(table, column, over, row) {
  const rx = over(table.fresnel.rx_px);
  if (rx === null) return null;
  return { rx_px: rx, ry_px: over(table.fresnel.ry_px), radius_m: over(table.fresnel.radius_m), x_px: over(table.x_px), y_px: over(table.y_px), obstruction: row.obstruction };
}

/** Lines of a tag in each form: everything, without the channel, the call sign alone. */
function tagForms(row, small) {
  const chosen = row.station === state.station;
  const call = { words: row.station, class: "call", font: `700 16px ${SANS}`, high: 19 };
  const channel = { ...call, channel: `ch ${row.rf_channel}` };
  const rest = [{ words: row.word, class: `word ${wordClass(row.path)}`, font: `600 14.5px ${SANS}`, high: 17 }];
  if (row.reception) rest.push({ words: row.reception, class: "reception", font: `400 14.5px ${SANS}`, high: 17 });
  if (row.beyond_horizon) rest.push({ words: "beyond the horizon", class: "small", font: `400 13px ${SANS}`, high: 16 });
  if (row.unseen_behind && !small) rest.push({ words: "unseen behind", class: "small", font: `400 13px ${SANS}`, high: 16 });
  const full = small && !chosen ? [call, ...rest] : [channel, ...rest];
  return [full, [call, ...rest], [call]];
}

const lineWidth = (line) => widthOf(line.words, line.font) + (line.channel ? 6 + widthOf(line.channel, `400 13px ${SANS}`) : 0);
const sizeOf = (lines) => [Math.max(...lines.map(lineWidth)), lines.reduce((sum, line) => sum + line.high, 0)];

function tag(row, place, lines) {
  const right = place.side === "right";
  const [left, top, far] = place.box;
  let y = top - 4;
  const anchor = right ? "start" : "end";
  const x = right ? left : far;
  const chosen = row.station === state.station;
  return s("g", { class: `tag${chosen ? " held" : ""}` }, lines.map((line) => {
    y += line.high;
    if (!line.channel) return text(x, y, line.words, { class: `halo ${line.class}`, "text-anchor": anchor });
    const call = s("tspan", { class: "call", dx: right ? 0 : 6 }, line.words);
    const channel = s("tspan", { class: "small", dx: right ? 6 : 0 }, line.channel);
    return s("text", { x, y, class: "halo", "text-anchor": anchor }, right ? [call, channel] : [channel, call]);
  }));
}

/**
 * Draws the stations; gives back the groups, the boxes that tags and marks fill, and the targets
 * that a tap may hit.
 */
export function stations(frame, rows, solids) {
  const small = frame.width < 640;
  const shown = [];
  const outside = { left: [], right: [] };
  for (const row of rows) {
    if (!row.place) continue;
    const [x, y] = toScreen(frame, [row.place.x_px, row.place.y_px]);
    if (x < -2 || x > frame.width + 2 || row.place.inside === false) outside[row.place.side ?? (x < frame.width / 2 ? "left" : "right")].push(row);
    else if (y > -30 && y < frame.height + 30) shown.push({ row, x, y });
  }
  const board = { left: 4, right: frame.width - 4, rails: rails(frame), solids };
  const forms = new Map(shown.map(({ row }) => [row.station, tagForms(row, small)]));
  const pins = shown.map(({ row, x, y }) => ({
    id: row.station,
    x,
    box: [x - 15, y - 15, x + 15, y + (row.beyond_horizon ? 24 : 15)],
    sizes: forms.get(row.station).map(sizeOf),
    weight: row.station === state.station ? 4 : row.must_have ? 2 : 1,
  }));
  const places = placeTags(pins, board, hung);
  hung = new Map([...places].filter(([, place]) => place));
  const drawing = { zones: [], poles: [], marks: [], boxes: [...pins.map((pin) => pin.box)], targets: [], untagged: 0, outside };
  for (const { row, x, y } of [...shown].sort((a, b) => (a.row.station === state.station) - (b.row.station === state.station))) {
    const place = places.get(row.station);
    const chosen = row.station === state.station;
    drawing.zones.push(...fresnel(frame, row, chosen));
    if (place) {
      drawing.poles.push(...pole(place.points, row.reception), tag(row, place, forms.get(row.station)[place.form]));
      drawing.boxes.push(place.box, place.upright);
    } else drawing.untagged += 1;
    const group = s("g", { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` }, spread(frame, row), chosen && loop(RADIUS * 1.75), mark(row.path, { beyond: row.beyond_horizon }));
    drawing.marks.push(group);
    drawing.targets.push({ id: row.station, boxes: [[x - 22, y - 22, x + 22, y + 22], ...(place ? [place.box] : [])] });
  }
  return drawing;
}

function rails(frame) {
  const step = frame.width < 640 ? 76 : 84;
  const first = 8;
  const count = Math.max(1, Math.min(3, Math.floor((frame.height * 0.52) / step)));
  return Array.from({ length: count }, (_, i) => first + (count - 1 - i) * step);
}

/** One sigma of the station's place, where it is wider than its mark. */
function spread(frame, row) {
  const across = (row.place.sigma_x_px ?? 0) * frame.scale;
  const down = (row.place.sigma_y_px ?? 0) * frame.scale;
  const parts = [];
  if (across > RADIUS * 1.3) parts.push(`M${-across} 0H${across}M${-across} -5v10M${across} -5v10`);
  if (down > RADIUS * 1.3) parts.push(`M0 ${-down}V${down}M-5 ${-down}h10M-5 ${down}h10`);
  const d = parts.join("");
  return d ? [s("path", { d, class: "case spread" }), s("path", { d, class: "line spread" })] : [];
}

function fresnel(frame, row, chosen) {
  const zone = row.fresnel;
  if (!zone) return [];
  const [x, y] = toScreen(frame, [zone.x_px, zone.y_px]);
  const [rx, ry] = [zone.rx_px * frame.scale, zone.ry_px * frame.scale];
  if (!chosen) return rx > RADIUS * 1.4 ? [s("ellipse", { cx: x, cy: y, rx, ry, class: "zone faint" })] : [];
  const words = `${zone.radius_m >= 9.95 ? Math.round(zone.radius_m) : zone.radius_m.toFixed(1)} m`;
  return [
    s("ellipse", { cx: x, cy: y, rx, ry, class: "case zone" }),
    s("ellipse", { cx: x, cy: y, rx, ry, class: "line zone" }),
    s("path", { d: `M${x + rx - 8} ${y}h8`, class: "line zone-tick" }),
    text(x, Math.min(y + ry + 16, frame.height - 4), words, { class: "halo figure", "text-anchor": "middle" }),
  ];
}

/** A chip at an edge with the stations that wait there; a tap brings the first one into view. */
export function chip(frame, rows, side) {
  if (!rows.length) return null;
  const small = frame.width < 640;
  const most = small ? 1 : 3;
  const lines = rows.slice(0, most).map((row) => (small ? row.station : `${row.station} ${Math.round(row.bearing_deg) % 360}°`));
  if (rows.length > most && small) lines[0] += ` +${rows.length - 1}`;
  else if (rows.length > most) lines.push(`and ${rows.length - most} more`);
  const width = Math.max(...lines.map((line) => widthOf(line, `700 14px ${SANS}`))) + 40;
  const height = Math.max(44, lines.length * 19 + 12);
  const x = side === "left" ? 8 : frame.width - width - 8;
  const y = frame.height - height - 8;
  const arrow = side === "left" ? `M${x + 16} ${y + height / 2 - 9}l-10 9l10 9z` : `M${x + width - 16} ${y + height / 2 - 9}l10 9l-10 9z`;
  const group = s(
    "g",
    { class: "chip" },
    s("rect", { x, y, width, height, rx: 3 }),
    lines.map((line, i) => text(side === "left" ? x + 26 : x + 10, y + height / 2 + 5 + (i - (lines.length - 1) / 2) * 19, line, { class: i === 3 ? "small" : "chip-text" })),
    s("path", { d: arrow, class: "ink-fill" }),
  );
  return { group, box: [x, y, x + width, y + height], station: rows[0].station };
}

export const hitStation = (targets, [x, y]) =>
  targets
    .filter((target) => target.boxes.some((box) => touches(box, [x, y, x, y])))
    .sort((a, b) => away(a.boxes[0], x, y) - away(b.boxes[0], x, y))[0]?.id ?? null;

const away = (box, x, y) => Math.hypot((box[0] + box[2]) / 2 - x, (box[1] + box[3]) / 2 - y);
