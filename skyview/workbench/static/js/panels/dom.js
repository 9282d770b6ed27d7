// Building the page's parts and renewing them in place, so that focus and what is being typed stay.

const PROPERTIES = new Set(["value", "checked", "disabled", "selected", "hidden", "open", "indeterminate"]);
const HANDLERS = ["onclick", "oninput", "onchange", "onkeydown", "onsubmit", "ontoggle"];

/** An element: properties, on* handlers and attributes by name; children of any depth. */
export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || (value === false && !PROPERTIES.has(name))) continue;
    if (name.startsWith("on") || PROPERTIES.has(name)) element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(9).filter((child) => child !== null && child !== undefined && child !== false));
  if (tag === "select" && "value" in props) element.value = props.value ?? "";
  return element;
}

const keyOf = (node) => (node.nodeType === 1 ? node.getAttribute("data-key") : null);
const alike = (a, b) => a.nodeType === b.nodeType && a.nodeName === b.nodeName && keyOf(a) === keyOf(b);

/** Makes `old` like `fresh` and keeps the nodes that stay. */
export function renew(old, fresh) {
  if (old.nodeType === 3) {
    if (old.data !== fresh.data) old.data = fresh.data;
    return;
  }
  const own = (name) => name === "open" && old.nodeName === "DETAILS";
  for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name) && !own(name)) old.removeAttribute(name);
  for (const { name, value } of [...fresh.attributes]) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  if (old.namespaceURI.endsWith("svg")) {
    old.replaceChildren(...fresh.childNodes);
    return;
  }
  for (const name of HANDLERS) old[name] = fresh[name];
  renewChildren(old, [...fresh.childNodes]);
  const typing = old === document.activeElement && ["INPUT", "TEXTAREA", "SELECT"].includes(old.nodeName);
  for (const name of ["checked", "disabled", "hidden", "indeterminate"]) if (name in old && old[name] !== fresh[name]) old[name] = fresh[name];
  if ("value" in old && !typing && old.type !== "file" && old.value !== fresh.value) old.value = fresh.value;
}

function renewChildren(old, fresh) {
  const keyed = new Map([...old.childNodes].filter(keyOf).map((node) => [keyOf(node), node]));
  let at = old.firstChild;
  for (const next of fresh) {
    const kept = keyOf(next) ? keyed.get(keyOf(next)) : null;
    if (kept && kept !== at) {
      old.insertBefore(kept, at);
      renew(kept, next);
    } else if (at && alike(at, next)) {
      renew(at, next);
      at = at.nextSibling;
    } else old.insertBefore(next, at);
  }
  while (at) {
    const gone = at;
    at = at.nextSibling;
    gone.remove();
  }
}

/** Puts parts into a place of the page, renewing what is there. */
export function fill(place, ...parts) {
  renewChildren(place, parts.flat(9).filter((part) => part !== null && part !== undefined && part !== false).map((part) => (part instanceof Node ? part : document.createTextNode(String(part)))));
}

let counted = 0;

/** A labelled field. `kind`: text, number, select (with options [[value, words]]), checkbox. */
export function field(words, { kind = "text", value, options, change, unit, ...more }) {
  counted += 1;
  const id = more.id ?? `f-${words.toLowerCase().replace(/[^a-z]+/g, "-")}`;
  const send = (event) => {
    const raw = event.target.value;
    if (kind === "checkbox") change(event.target.checked);
    else if (kind === "number") change(raw.trim() === "" ? null : Number(raw.replace(",", ".")));
    else change(raw);
  };
  if (kind === "checkbox") {
    return h("label", { class: "check", "data-key": id }, h("input", { type: "checkbox", checked: Boolean(value), onchange: send, id }), h("span", {}, words));
  }
  const shared = { id, onchange: send, ...more };
  const control =
    kind === "select"
      ? h("select", { ...shared, value: value ?? "" }, options.map(([code, name]) => h("option", { value: code }, name)))
      : h("input", { ...shared, type: "text", inputmode: kind === "number" ? "decimal" : null, value: value ?? "", autocomplete: "off" });
  return h("div", { class: "row", "data-key": id }, h("label", { for: id }, words), h("span", { class: "entry" }, control, unit ? h("span", { class: "unit" }, unit) : null));
}

/** A choice of few: buttons in a row, one pressed. */
export function choice(words, value, options, change) {
  return h(
    "div",
    { class: "row", role: "group", "aria-label": words },
    h("span", {}, words),
    h("span", { class: "seg" }, options.map(([code, name]) => h("button", { type: "button", "aria-pressed": String(code === value), onclick: () => change(code) }, name))),
  );
}

export const button = (words, onclick, more = {}) => h("button", { type: "button", onclick, ...more }, words);

/** What went wrong here, with the mend. */
export const trouble = (text) => text && h("p", { class: "trouble", role: "alert" }, text);

export const progress = (words, share) =>
  h("p", { class: "progress" }, h("progress", { max: "1", value: share ?? 0, "aria-label": words }), h("span", {}, `${words} ${Math.round((share ?? 0) * 100)} %`));
