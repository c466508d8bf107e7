// The walk on a phone: opens without signal, keeps what is typed, sends when it can.

import { h, many } from "./dom.js";
import { all, get, put, setMeta, whoami, write } from "./store.js";
import { LINKS } from "./links.js";
import { ask, hear, onChange, queued, send, signal } from "./queue.js";
import { checkPage, donePage, home, signPage, waitingPage, walkPage } from "./pages.js";
import { entitle, keepTime } from "./timers.js";

const EVERY = 20000; // between two tries to send what waits [ms]
const FRESH = 300000; // between two looks at the lists, with signal [ms]
const KEPT = 3600000; // a place's own list, where nothing there has changed [ms]
const LONG_AGO = 90 * 86400000; // what was sent and signed is the server's to remember after this [ms]
const main = document.getElementById("main");
let me = null;
let lookedAt = 0;
let drawn = 0;

async function draw({ keepPlace = false } = {}) {
  const turn = ++drawn;
  const [name, ...rest] = location.hash.replace(/^#\/?/, "").split("/").map(decodeURIComponent);
  const made = me ? await madeOf(name, rest) : await nobody();
  if (turn !== drawn) return; // something newer is being drawn
  const [y, open, held] = [scrollY, opened(), document.activeElement?.closest("li[id], details[id]")?.id];
  main.replaceChildren(made.node);
  entitle(made.title);
  if (keepPlace) {
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    document.getElementById(held || "")?.focus({ preventScroll: true });
    return scrollTo(0, y);
  }
  const at = document.getElementById(rest.at(-1) || "") || null;
  if (at && name === "walk") at.scrollIntoView();
  else { scrollTo(0, 0); main.focus({ preventScroll: true }); }
}

/** What somebody has opened on this page: it stays open when the page is drawn anew. */
const opened = () => [...main.querySelectorAll("details[open][id]")].map((each) => each.id);

function madeOf(name, rest) {
  if (name === "walk") {
    const [of, pk] = (rest[1] || "").split("-");
    return walkPage(me, rest[0], rest[1] ? { of, pk: Number(pk) } : null);
  }
  if (name === "check") return checkPage(me, ...rest);
  if (name === "sign") return signPage(me, rest[0]);
  if (name === "done") return donePage(me, rest[0]);
  if (name === "waiting") return waitingPage(me);
  return home(me);
}

async function nobody() {
  const waits = (await queued()).length;
  return { title: "Walk", node: h("div", { className: "phone stack" }, h("h1", {}, "Walk"),
    h("p", {}, signal.state === "none" ? "No signal, and nobody has walked with this phone yet." : "Nobody is signed in on this phone."),
    waits ? h("p", { className: "note" }, `${many(waits, "record")} of others wait here.`) : "",
    h("a", { className: "btn", href: `${LINKS.signIn}?next=${LINKS.offline}` }, "Sign in")) };
}

/** Ask who is there and what is due; take every place along that is not here, or is older than the list. */
async function look() {
  lookedAt = Date.now();
  try {
    const seen = await ask(LINKS.overview);
    const owner = `${seen.who.department}:${seen.who.user}`;
    await setMeta("who", seen.who);
    await setMeta(`overview/${owner}`, seen);
    const changed = me?.owner !== owner;
    me = await whoami();
    hear("ok");
    await sayHow();
    if (changed || resting()) draw({ keepPlace: !changed });
    await takeAlong(owner, seen.places);
    await clearOut(owner);
    if (seen.version !== LINKS.version) (await navigator.serviceWorker?.getRegistration())?.update();
    if (resting()) draw({ keepPlace: true });
  } catch (problem) {
    if (!problem.state) throw problem;
    hear(problem.state);
  }
}

async function takeAlong(owner, places) {
  for (const place of places) {
    const id = `${owner}/${place.pk}`;
    const held = await get("packs", id);
    if (held && held.words === place.words && held.version === LINKS.version && Date.now() - Date.parse(held.made_at) < KEPT) continue;
    const pack = await ask(LINKS.pack.replace("0", place.pk));
    await put("packs", { ...pack, id, owner, words: place.words, version: LINKS.version });
    if (resting() && location.hash.length < 3) draw({ keepPlace: true });
  }
}

/** Forget what was sent long ago, and walks signed long ago of which nothing waits. */
async function clearOut(owner) {
  const isOld = (at) => at && Date.now() - Date.parse(at) > LONG_AGO;
  const waiting = new Set((await queued(owner)).map((row) => row.walk));
  const sent = (await all("sent", owner)).filter((row) => isOld(row.at));
  const walks = (await all("walks", owner)).filter((walk) => isOld(walk.signed_at) && !waiting.has(walk.client_id));
  if (sent.length || walks.length) {
    await write(["sent", "walks"], (at) => {
      for (const row of sent) at("sent").delete(row.id);
      for (const walk of walks) at("walks").delete(walk.id);
    });
  }
}

/** Say so where the phone cannot keep something: nobody must believe that it is safe. */
function complain(event) {
  if (!(event.reason instanceof DOMException)) return;
  const why = event.reason?.name === "QuotaExceededError" ? "It is full: free some space, then type the last value again." : "Type the last value again, or write it down.";
  document.getElementById("trouble").replaceChildren(h("p", { className: "caution", role: "alert" }, h("b", {}, "The phone could not keep this. "), why));
}

/** Whether nobody is typing or scanning: then the page may be drawn anew. A form is never drawn over. */
function resting() {
  const busy = document.activeElement?.matches("input, textarea") || main.querySelector("video");
  return !busy && !/^#\/(check|sign)/.test(location.hash);
}

async function sayHow() {
  const rows = me ? await queued(me.owner) : [];
  const words = { ok: "Signal", none: "No signal", "signed-out": "Signed out", other: "Somebody else signed in", trouble: "Server trouble", barred: "Not allowed" }[signal.state];
  const waits = rows.length ? `${many(rows.length, "record")} ${rows.length === 1 ? "waits" : "wait"}` : "nothing waits";
  const said = document.getElementById("signal");
  const text = `${words} · ${waits}`;
  if (said.textContent !== text) said.textContent = text;
  said.dataset.state = signal.state;
}

async function tick() {
  if (Date.now() - lookedAt > FRESH || signal.state !== "ok" || !me) await look();
  await send();
}

async function begin() {
  if (!("indexedDB" in window) || !crypto.randomUUID) {
    main.replaceChildren(h("p", { className: "caution" }, "This browser cannot keep a walk. Use the Walk’s pages with signal."));
    return;
  }
  addEventListener("unhandledrejection", complain);
  me = await whoami();
  keepTime(document.getElementById("watches"), () => me?.owner);
  onChange(() => { sayHow(); if (resting()) draw({ keepPlace: true }); });
  addEventListener("hashchange", () => draw());
  addEventListener("online", () => tick());
  addEventListener("offline", () => hear("none"));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) tick(); });
  setInterval(tick, EVERY);
  await draw();
  await sayHow();
  navigator.serviceWorker?.register(LINKS.worker, { scope: "/" }).catch(() => {});
  await look();
  await send();
  await sayHow();
}

begin();
