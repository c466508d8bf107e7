// The walk on a phone: opens without signal, keeps what is typed, sends when it can.

import { h, many } from "./dom.js";
import { put, setMeta, whoami } from "./store.js";
import { LINKS } from "./links.js";
import { ask, hear, onChange, queued, send, signal } from "./queue.js";
import { checkPage, donePage, home, signPage, waitingPage, walkPage } from "./pages.js";
import { entitle, keepTime } from "./timers.js";

const EVERY = 20000; // between two tries to send what waits [ms]
const FRESH = 300000; // between two looks at the lists, with signal [ms]
const main = document.getElementById("main");
let me = null;
let lookedAt = 0;
let drawn = 0;

async function draw({ keepPlace = false } = {}) {
  const turn = ++drawn;
  const [name, ...rest] = location.hash.replace(/^#\/?/, "").split("/").map(decodeURIComponent);
  const made = me ? await madeOf(name, rest) : await nobody();
  if (turn !== drawn) return; // something newer is being drawn
  const y = scrollY;
  main.replaceChildren(made.node);
  entitle(made.title);
  if (keepPlace) return scrollTo(0, y);
  const at = document.getElementById(rest.at(-1) || "") || null;
  if (at && name === "walk") at.scrollIntoView();
  else { scrollTo(0, 0); main.focus({ preventScroll: true }); }
}

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
    if (resting()) draw({ keepPlace: true });
  } catch (problem) {
    if (!problem.state) throw problem;
    hear(problem.state);
  }
}

async function takeAlong(owner, places) {
  for (const place of places) {
    const pack = await ask(LINKS.pack.replace("0", place.pk));
    await put("packs", { ...pack, id: `${owner}/${place.pk}`, owner });
    if (resting() && location.hash.length < 3) draw({ keepPlace: true });
  }
}

/** Whether nobody is typing: then the page may be drawn anew. A form is never drawn over. */
function resting() {
  return !/^#\/(check|sign)/.test(location.hash) && !document.activeElement?.matches("input, textarea");
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
