// Why the chosen station comes in or not: one sentence, bars of what each cause takes, the cures.

import { s, text } from "../draw/svg.js";
import { stationsNow } from "../draw/stations.js";
import { headingAhead, state } from "../state/store.js";
import { h, progress, trouble } from "./dom.js";
import { number, receptionWord, sentence } from "./words.js";

const LINE_PX = 16;
const LABEL_PX = 132;
const LABEL_LETTERS = 20;
const WIDE_PX = 310;

/** The bars: the free view first where the margin is known, each cause, what is left with its spread. */
export function barsOf(row, causes) {
  const margin = row.margin_db;
  const bars = [];
  const spent = causes.reduce((sum, cause) => sum + Math.max(0, cause.db), 0);
  let level = margin ? margin.p50 + spent : 0;
  if (margin) bars.push({ text: "free view, aimed", from: 0, to: level, kind: "free", figure: number(level) });
  for (const cause of causes.filter((one) => one.db >= 0.5)) {
    const next = margin ? level - cause.db : 0;
    bars.push({ text: cause.text, from: margin ? level : cause.db, to: next, kind: cause.obstruction ? "thing" : "other", figure: number(margin ? -cause.db : cause.db) });
    level = next;
  }
  if (margin) bars.push({ text: "left to spare", from: margin.p10 ?? margin.p50, to: margin.p90 ?? margin.p50, at: margin.p50, kind: "left", figure: leftText(margin) });
  return bars;
}

const leftText = ({ p10, p50, p90 }) => (p10 == null || p90 == null ? `${number(p50)} dB` : `${number(p50)} dB, ${number(p10)} to ${number(p90)}`);

/** A label in lines of at most so many letters. */
function wrapped(words) {
  const lines = [""];
  for (const word of words.split(" ")) {
    const line = lines[lines.length - 1];
    if (line && line.length + word.length + 1 > LABEL_LETTERS) lines.push(word);
    else lines[lines.length - 1] = line ? `${line} ${word}` : word;
  }
  return lines;
}

function drawBars(bars, hasMargin) {
  const values = bars.flatMap((bar) => [bar.from, bar.to, 0]);
  const [low, high] = [Math.min(...values), Math.max(...values, 1)];
  const room = WIDE_PX - LABEL_PX - 48;
  const x = (db) => LABEL_PX + 6 + ((db - low) / (high - low)) * room;
  const parts = [];
  let y = 4;
  for (const bar of bars) {
    const lines = wrapped(bar.text);
    const middle = y + (lines.length * LINE_PX) / 2;
    const [a, b] = [x(Math.min(bar.from, bar.to)), x(Math.max(bar.from, bar.to))];
    lines.forEach((line, i) => parts.push(text(0, y + 12.5 + i * LINE_PX, line, { class: bar.kind === "left" ? "bar-text bold" : "bar-text" })));
    if (bar.kind === "left") {
      const at = x(bar.at);
      parts.push(s("path", { d: `M${a} ${middle}H${b}M${a} ${middle - 6}v12M${b} ${middle - 6}v12`, class: "pencil-line" }), s("path", { d: `M${at - 8} ${middle}l8 -8l8 8l-8 8z`, class: "pencil-fill" }), text(b + 6, middle + 4.5, number(bar.at, 0, true), { class: "bar-text left" }));
    } else parts.push(s("rect", { x: a, y: middle - 8, width: Math.max(1.5, b - a), height: 16, class: `bar-${bar.kind}` }), text(b + 6, middle + 4.5, bar.figure, { class: "bar-text" }));
    y += lines.length * LINE_PX + 8;
  }
  parts.push(s("path", { d: `M${x(0)} 0V${y}`, class: "axis" }));
  if (hasMargin) parts.push(text(Math.max(x(0), LABEL_PX - 26), y + 14, "just enough", { class: "small", "text-anchor": x(0) < LABEL_PX + 30 ? "start" : "middle" }));
  const told = bars.map((bar) => `${bar.text} ${bar.figure}`).join("; ");
  return s("svg", { viewBox: `0 0 ${WIDE_PX} ${y + (hasMargin ? 20 : 2)}`, class: "bars", role: "img", "aria-label": `In decibels: ${told}` }, parts);
}

export function whyPanel() {
  const row = stationsNow().find((one) => one.station === state.station);
  if (!row) return [h("h2", {}, "Why"), h("p", { class: "say faint" }, "Choose a station in the picture or the list: here stands why it comes in or not, and what would help.")];
  const why = state.why?.station === state.station ? state.why : null;
  const fresh = why && Math.abs(why.height_m - state.height) < 1e-6 && headingAhead() === null;
  const bars = why ? barsOf(fresh ? { ...row, margin_db: why.margin_db } : row, why.causes) : [];
  return [
    h("h2", {}, headline(row)),
    trouble(state.troubles.why),
    h("p", { class: `say${fresh ? "" : " old"}` }, why?.sentence ?? "Working out why …"),
    h(
      "div",
      { class: "two" },
      h("div", {}, h("h3", {}, row.margin_db ? "Where it goes, in dB" : `${sentence("causes_head")}, in dB`), bars.length ? drawBars(bars, Boolean(row.margin_db)) : h("p", { class: "note" }, why ? nothing(row) : "Working it out …")),
      h("div", {}, h("h3", {}, sentence("cures_head")), cures(why)),
    ),
    (why?.standing ?? []).map((text) => h("p", { class: "note", "data-key": text }, text)),
    why?.caution ? h("p", { class: "note strong", role: "note" }, why.caution) : null,
  ];
}

const nothing = (row) => (row.path === "not_seen" ? "No picture shows that direction." : sentence("no_causes"));

const headline = (row) => {
  const path = `${row.word}${row.beyond_horizon ? ", beyond the horizon" : ""}`;
  return row.reception ? `${row.station}: ${receptionWord(row.reception)}. Near path ${path}.` : `${row.station}: ${path}.`;
};

function cures(why) {
  if (!why || why.state === "working") return progress("Trying what would help", Object.values(state.jobs).find((job) => job.kind === "why")?.share);
  if (!why.cures.length) return h("p", { class: "note" }, sentence("no_cures"));
  return h("ul", { class: "cures" }, why.cures.map((cure) =>
    h("li", { class: cure.gain_db > 0 ? "" : "none", "data-key": cure.text }, h("span", {}, cure.text), h("em", {}, gain(cure)), h("small", {}, cost(cure))),
  ));
}

const gain = (cure) => (cure.gain_db == null ? "" : cure.gain_db > 0.5 ? `${number(cure.gain_db, 0, true)} dB` : "does not help");
const cost = (cure) => (cure.costs?.length ? cure.costs.map((one) => `${one.station} ${one.db > 0 ? "loses" : "gains"} ${number(Math.abs(one.db))} dB`).join("; ") : "No other station loses by it.");
