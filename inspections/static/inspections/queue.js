// What waits to be sent: in order, each until the server has answered for it, and never under another name.
// A record is made once, with its own id; however often it is sent, the server keeps one.

import { all, get, meta, put, whoami, write } from "./store.js";
import { LINKS, csrf } from "./links.js";

const AT_ONCE = 10;
const PATIENCE = 30000; // for an answer, in a bay with one bar of signal [ms]

/** How sending stands: "ok", "none" (no signal), "signed-out", "other" (somebody else), "trouble", "barred". */
export const signal = { state: "ok" };
const changed = new EventTarget();
export const onChange = (listener) => changed.addEventListener("change", listener);
export const tell = () => changed.dispatchEvent(new Event("change"));

export function hear(state) {
  if (signal.state !== state) { signal.state = state; tell(); }
}

class NotSent extends Error {
  constructor(state) { super(state); this.state = state; }
}

/** Ask the server for something; what goes wrong says which way. */
export async function ask(address, options = {}) {
  let response;
  try {
    response = await fetch(address, {
      redirect: "manual", cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(PATIENCE), ...options,
    });
  } catch {
    throw new NotSent("none");
  }
  // Whoever is not signed in is led to the sign-in page; that is no answer to a record.
  if (response.type === "opaqueredirect") throw new NotSent("signed-out");
  if (response.status === 403) throw new NotSent("barred");
  if (response.status === 409) throw new NotSent("other");
  if (response.status === 413) throw new NotSent("too-long");
  if (!response.ok) throw new NotSent("trouble");
  try {
    return await response.json();
  } catch {
    throw new NotSent("trouble"); // a page of somebody's network in between, or an answer cut short
  }
}

/** Put a record among those that wait; `more` writes what goes with it in the same transaction. */
export async function enqueue(stores, record, more = () => {}) {
  const row = { state: "waiting", made_at: new Date().toISOString(), tries: 0, ...record };
  await write(["queue", ...stores], (at) => { at("queue").put(row); more(at); });
  tell();
  send();
}

export const queued = async (owner) => (await all("queue", owner)).sort((a, b) => a.seq - b.seq);

/** Send what waits. Of several tabs, one sends. */
export async function send() {
  if (!navigator.locks) return sendAll();
  return navigator.locks.request("holdair-send", { ifAvailable: true }, (lock) => (lock ? sendAll() : null));
}

async function sendAll() {
  const later = new Set();
  try {
    for (;;) {
      const me = await whoami();
      const batch = me ? ready(await queued(me.owner), later) : [];
      if (!batch.length) return;
      await sendSome(me, batch, later);
    }
  } catch (problem) {
    if (!(problem instanceof NotSent)) throw problem;
    hear(problem.state);
  }
}

/** Choose what is sent next. A photo waits for its check, a signature for everything else of its walk. */
export function ready(rows, later) {
  const behind = new Set(rows.filter((row) => holdsUp(row) && (row.state === "refused" || later.has(row.client_id)))
    .map((row) => row.walk));
  const open = rows.filter((row) => row.state === "waiting" && !later.has(row.client_id) &&
    (holdsUp(row) || !behind.has(row.walk)));
  const batch = [];
  for (const row of open) {
    const alone = row.kind === "photo" || row.kind === "sign";
    if (row.kind === "photo" && rows.some((other) => other.client_id === row.body.inspection)) continue;
    if (row.kind === "sign" && rows.some((other) => other.walk === row.walk && other !== row)) continue;
    if (alone && batch.length) break;
    batch.push(row);
    if (alone || batch.length === AT_ONCE) break;
  }
  return batch;
}

const holdsUp = (row) => row.kind === "walk" || row.kind === "take-up";

async function sendSome(me, batch, later) {
    let said;
  try {
    said = batch[0].kind === "photo" ? await sendPhoto(me, batch[0]) : await sendRecords(me, batch);
  } catch (problem) {
    if (problem.state !== "too-long") throw problem;
    if (batch.length > 1) return sendSome(me, batch.slice(0, 1), later);
    said = { answers: [{ outcome: "refused", what: "This is longer than any record.", mend: "Shorten it.", problems: [] }] };
  }
  hear("ok");
  for (const [number, row] of batch.entries()) await settle(row, said.answers[number], later);
  tell();
}

const signed = (me) => ({ user: me.user, department: me.department, sent_at: new Date().toISOString() });

function sendRecords(me, batch) {
  const records = batch.map((row) => ({ kind: row.kind, client_id: row.client_id, ...row.body }));
  return ask(LINKS.sync, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": csrf() },
    body: JSON.stringify({ ...signed(me), records }),
  });
}

async function sendPhoto(me, row) {
  const kept = await get("photos", row.photo);
  if (!kept) return { answers: [{ outcome: "refused", what: "The photo is no longer on this phone.", mend: "Give it up.", problems: [] }] };
  const body = new FormData();
  for (const [name, value] of Object.entries({ ...signed(me), ...row.body, client_id: row.client_id })) body.set(name, value);
  body.set("file", new Blob([kept.bytes], { type: kept.type }), kept.name);
  return ask(LINKS.photo, { method: "POST", headers: { "X-CSRFToken": csrf() }, body });
}

/** Take the server's answer for one record: what is recorded leaves the queue, what is refused stays with its words. */
async function settle(row, answer, later) {
  if (answer?.outcome === "recorded" || answer?.outcome === "known") {
    const at = new Date().toISOString();
    const sent = { id: row.client_id, owner: row.owner, kind: row.kind, walk: row.walk, what: row.what, of: row.of, at, answer };
    await write(["queue", "sent", "photos", "meta"], (store) => {
      store("queue").delete(row.seq);
      store("sent").put(sent);
      if (row.photo) store("photos").delete(row.photo);
      store("meta").put({ id: `sent/${row.owner}`, value: at });
    });
  } else if (answer?.outcome === "refused") {
    await put("queue", { ...row, state: "refused", answer, tries: row.tries + 1 });
  } else {
    later.add(row.client_id);
    await put("queue", { ...row, answer: answer || null, tries: row.tries + 1 });
  }
}

/** Give a refused record up. What belonged to it goes with it; the checks of a walk that is given up go on alone. */
export async function giveUp(row) {
  const rows = await queued(row.owner);
  const photos = rows.filter((other) => other.kind === "photo" && other.body.inspection === row.client_id);
  const checks = holdsUp(row) ? rows.filter((other) => other.walk === row.walk && other.kind === "check") : [];
  const signs = holdsUp(row) ? rows.filter((other) => other.walk === row.walk && other.kind === "sign") : [];
  await write(["queue", "photos"], (at) => {
    for (const gone of [row, ...photos, ...signs]) {
      at("queue").delete(gone.seq);
      if (gone.photo) at("photos").delete(gone.photo);
    }
    for (const check of checks) at("queue").put({ ...check, walk: null, body: { ...check.body, walk: null } });
  });
  tell();
  send();
}

export const lastSent = (owner) => meta(`sent/${owner}`);
