// Every change goes through one queue: shown at once, sent in order, kept until acknowledged.
// What the page shows is what the server has confirmed with the waiting changes laid over it.

import { Trouble, get, pageId, post } from "./server.js";
import { set, state } from "./store.js";

const KEPT = "skyview-unsent";
const AGAIN_AFTER_MS = 1500;

let confirmed = null;
let queue = [];
let busy = false;

// --- the copy of the survey -----------------------------------------------------------------

function withItem(list, id, value) {
  if (value === null) return list.filter((one) => one.id !== id);
  const at = list.findIndex((one) => one.id === id);
  return at < 0 ? [...list, value] : list.map((one, i) => (i === at ? value : one));
}

function applied(survey, change) {
  const list = survey[change.list] ?? [];
  if (change.do === "put") return { ...survey, [change.list]: withItem(list, change.item.id, change.item) };
  if (change.do === "remove") return { ...survey, [change.list]: withItem(list, change.id, null) };
  if (change.do === "patch") {
    const old = list.find((one) => one.id === change.id);
    return old ? { ...survey, [change.list]: withItem(list, change.id, { ...old, ...change.fields }) } : survey;
  }
  if ("value" in change) return { ...survey, [change.part]: change.value };
  return { ...survey, [change.part]: { ...survey[change.part], ...change.fields } };
}

function merged(survey, answer) {
  if (answer.survey) return answer.survey;
  let next = survey;
  for (const one of answer.changed ?? []) {
    if (one.part) next = { ...next, [one.part]: one.value };
    else next = { ...next, [one.list]: withItem(next[one.list] ?? [], one.id, one.item) };
  }
  for (const [name, ids] of Object.entries(answer.order ?? {})) {
    const known = new Map((next[name] ?? []).map((one) => [one.id, one]));
    next = { ...next, [name]: ids.map((id) => known.get(id)).filter(Boolean) };
  }
  return next;
}

function show() {
  let survey = confirmed;
  for (const entry of queue) for (const change of entry.changes ?? []) survey = applied(survey, change);
  set({ survey });
}

function take(answer) {
  confirmed = merged(confirmed ?? {}, answer);
  set({ revision: answer.revision, open: true });
  if (answer.history) set({ history: answer.history });
  const pose = (answer.poses ?? []).find((one) => one.view === state.view);
  if (pose) set({ pose });
  for (const text of answer.notes ?? []) notice(text);
  show();
}

export async function reload() {
  const answer = await get("/api/survey");
  confirmed = answer.survey;
  set({ revision: answer.revision, history: answer.history, open: true });
  show();
}

// --- what the page has to say ---------------------------------------------------------------

let counted = 0;

export function notice(text, { place = null, action = null } = {}) {
  const rest = state.notices.filter((one) => one.text !== text);
  counted += 1;
  set({ notices: [...rest, { id: counted, text, place, action }].slice(-4) });
}

export const dismiss = (id) => set({ notices: state.notices.filter((one) => one.id !== id) });

/** Puts a trouble at the place that it belongs to, or takes it away. */
export function troubleAt(place, trouble) {
  const rest = { ...state.troubles };
  if (trouble) rest[place] = trouble instanceof Trouble ? trouble.text : String(trouble);
  else delete rest[place];
  set({ troubles: rest });
}

// --- sending ----------------------------------------------------------------------------------

function keep() {
  const plain = queue.filter((entry) => entry.changes).map(({ label, changes, place }) => ({ label, changes, place }));
  if (plain.length) sessionStorage.setItem(KEPT, JSON.stringify({ base: state.revision, entries: plain }));
  else sessionStorage.removeItem(KEPT);
}

const touched = (change) => (change.list ? `${change.list}/${change.id ?? change.item.id}` : `/${change.part}`);

/** Ids and parts that both a waiting entry and the other page's changes touch. */
function disputed(entry, theirs) {
  const changed = new Set(theirs.map((one) => (one.list ? `${one.list}/${one.id}` : `/${one.part}`)));
  return (entry.changes ?? []).map(touched).filter((key) => changed.has(key));
}

function stale(entry, trouble) {
  const before = confirmed;
  take({ ...trouble.body, history: undefined });
  if (!entry.changes) {
    if (entry.again) return "again";
    notice(`Another page changed the survey meanwhile. It is shown now; press ${entry.label} again if you still want to.`);
    return "dropped";
  }
  const theirs = trouble.body.survey ? differences(before, trouble.body.survey) : trouble.body.changed;
  const both = disputed(entry, theirs);
  if (!both.length) {
    notice(`Another page changed the survey meanwhile. Your “${entry.label}” was added on top; nothing was lost.`);
    return "again";
  }
  set({ conflict: { label: entry.label, things: both.map((key) => key.split("/")[1]) } });
  return "asked";
}

function differences(old, fresh) {
  const all = [];
  for (const name of Object.keys(fresh)) {
    if (!Array.isArray(fresh[name])) continue;
    const known = new Map((old?.[name] ?? []).map((one) => [one.id, JSON.stringify(one)]));
    for (const one of fresh[name]) {
      if (known.get(one.id) !== JSON.stringify(one)) all.push({ list: name, id: one.id });
      known.delete(one.id);
    }
    for (const id of known.keys()) all.push({ list: name, id });
  }
  return all;
}

/** Settles a conflict: the other page's version stays, or mine is put over it. */
export function settleConflict(mine) {
  const [entry] = queue;
  set({ conflict: null });
  if (!mine) finish(entry, false);
  else {
    entry.changes = entry.changes.map((change) => {
      const gone = change.do === "patch" && !(confirmed[change.list] ?? []).some((one) => one.id === change.id);
      return gone ? { do: "put", list: change.list, item: { ...entry.whole[touched(change)], ...change.fields } } : change;
    });
    show();
  }
  work();
}

function finish(entry, result) {
  queue = queue.filter((one) => one !== entry);
  keep();
  show();
  entry.done(result);
}

async function work() {
  if (busy || !queue.length || state.conflict) return;
  busy = true;
  const [entry] = queue;
  set({ saved: "saving" });
  try {
    const answer = await entry.send(entry.base ?? state.revision);
    entry.base = null;
    queue = queue.filter((one) => one !== entry);
    take(answer);
    keep();
    troubleAt(entry.place, null);
    entry.done(answer);
  } catch (trouble) {
    entry.base = null;
    if (!(trouble instanceof Trouble)) throw trouble;
    if (trouble.unreachable && entry.changes) {
      set({ saved: "waiting" });
      busy = false;
      setTimeout(work, AGAIN_AFTER_MS);
      return;
    }
    const outcome = trouble.status === 409 && trouble.code === "stale" ? stale(entry, trouble) : "refused";
    if (outcome === "refused") troubleAt(entry.place, trouble);
    if (outcome === "refused" || outcome === "dropped") finish(entry, null);
  } finally {
    busy = false;
  }
  set({ saved: queue.length ? (state.conflict ? "asking" : "saving") : "saved" });
  if (queue.length && !state.conflict) work();
}

function enqueue(entry) {
  return new Promise((done) => {
    queue.push({ place: state.step, ...entry, done });
    keep();
    if (entry.changes) show();
    work();
  });
}

/** Makes changes as one step of undo; resolves to the server's answer, or null when refused. */
export function change(label, changes, { place } = {}) {
  const whole = {};
  for (const one of changes) {
    if (one.do === "patch") whole[touched(one)] = (state.survey[one.list] ?? []).find((old) => old.id === one.id);
  }
  const entry = { label, changes, whole };
  if (place) entry.place = place;
  entry.send = (base) => post("/api/changes", { base, label, changes: queue[0].changes });
  return enqueue(entry);
}

export const undo = () => enqueue({ label: "undo", send: (base) => post("/api/undo", { base }) });
export const redo = () => enqueue({ label: "redo", send: (base) => post("/api/redo", { base }) });

/** Sends a file or another request that answers like a change and may simply be repeated. */
export function sendForm(label, path, fields, place) {
  const send = (base) => {
    const form = new FormData();
    for (const [name, value] of Object.entries(fields)) {
      if (value !== null && value !== undefined && value !== "") form.append(name, value);
    }
    if (state.open) form.append("base", base);
    return post(path, form);
  };
  return enqueue({ label, send, place, again: true });
}

export function sendJson(label, path, body, place) {
  const send = (base) => post(path, state.open ? { base, ...body } : body);
  return enqueue({ label, send, place, again: true });
}

/** Takes up changes that an earlier load of this page could not send. */
export function takeUpUnsent() {
  const text = sessionStorage.getItem(KEPT);
  if (!text) return;
  const { base, entries } = JSON.parse(text);
  entries.forEach(({ label, changes, place }, i) => {
    change(label, changes, { place });
    if (i === 0) queue[queue.length - 1].base = base;
  });
}

/** What another page or program saved: taken over as soon as nothing of ours is on its way. */
export async function hearRevision({ revision, by, label, history }) {
  if (by === pageId || revision <= state.revision) return;
  if (queue.length) return;
  set({ history });
  try {
    await reload();
  } catch (trouble) {
    if (!trouble.unreachable) throw trouble;
    set({ saved: "silent" });
    return;
  }
  notice(label ? `Another page changed the survey: ${label}.` : "Another program changed the survey; it is shown now.");
}
