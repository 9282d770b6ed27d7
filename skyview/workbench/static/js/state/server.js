// Talking with the program on this machine: JSON in, JSON out, troubles as one plain sentence.

const page = Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");
export const pageId = page;

/** Something that went wrong: a sentence, the field it belongs to, what would be right. */
export class Trouble extends Error {
  constructor(status, body) {
    super(body.message ?? "the program gave no reason");
    this.status = status;
    this.body = body;
    this.field = body.field ?? null;
    this.mend = body.mend ?? null;
    this.code = body.code ?? null;
  }

  /** Whether nobody answered, so that trying again may help. */
  get unreachable() {
    return this.status === 0;
  }

  get text() {
    const said = this.message.replace(/\.$/, "");
    const mend = this.mend ? ` To mend it: ${this.mend.replace(/\.$/, "")}.` : "";
    return `${said.charAt(0).toUpperCase()}${said.slice(1)}.${mend}`;
  }
}

async function ask(method, path, { query, body, signal } = {}) {
  const url = new URL(path, location.origin);
  for (const [key, value] of Object.entries(query ?? {})) {
    if (value !== null && value !== undefined) url.searchParams.set(key, value);
  }
  const headers = { "X-Skyview-Page": page };
  const form = body instanceof FormData;
  if (body && !form) headers["Content-Type"] = "application/json";
  let answer;
  try {
    answer = await fetch(url, { method, headers, signal, body: form ? body : body && JSON.stringify(body) });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Trouble(0, { message: "the program does not answer", mend: "start skyview serve again; what was saved is kept" });
  }
  const data = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Trouble(answer.status, data);
  return data;
}

export const get = (path, query, signal) => ask("GET", path, { query, signal });
export const post = (path, body) => ask("POST", path, { body });
export const drop = (path) => ask("DELETE", path);
