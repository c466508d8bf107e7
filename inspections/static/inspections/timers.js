// Watches for rests and holds. They run by the clock on the wall, so that a closed page loses nothing of them.

import { all, drop, get, put } from "./store.js";
import { button, h } from "./dom.js";

const PER = { min: 60000, s: 1000 };
const UP = "Time is up: ";
let plainTitle = document.title;

/** Name the page; a watch whose time is up takes the name over until it is stopped. */
export function entitle(words) {
  plainTitle = `${words} · Holdair`;
  if (!document.title.startsWith(UP)) document.title = plainTitle;
}

const elapsed = (watch) => (watch.ended_at ?? Date.now()) - watch.started_at;

/** Write a running time: 12:05, or 1:02:05 from an hour on. */
export function face(ms) {
  const s = Math.max(0, Math.floor(ms / 1000));
  const two = (n) => String(n).padStart(2, "0");
  const [hours, minutes] = [Math.floor(s / 3600), Math.floor(s / 60) % 60];
  return hours ? `${hours}:${two(minutes)}:${two(s % 60)}` : `${minutes}:${two(s % 60)}`;
}

/** What a watch reads in the unit of its field: whole minutes that have passed, or seconds. */
export const reading = (watch) => String(Math.floor(elapsed(watch) / PER[watch.unit]));

/** A watch beside a field. `taken` gets the reading when somebody stops it; nothing is written by itself. */
export function watchFor({ id, owner, unit, goal, title, to, taken }) {
  const box = h("div", { className: "watch" });
  const draw = async () => {
    const watch = await get("timers", id);
    if (!watch) {
      const wanted = goal ? ` (${goal} ${unit} wanted)` : "";
      box.replaceChildren(button(`Start the watch${wanted}`, async () => {
        const named = { id, owner, unit, goal: goal ?? null, title, to };
        await put("timers", { ...named, started_at: Date.now(), rung: false });
        unlockSound();
        draw();
      }));
      return;
    }
    const left = goal ? ` of ${face(goal * PER[unit])}` : "";
    box.replaceChildren(
      h("p", { className: "num running" }, h("b", { data: { watch: id } }, face(elapsed(watch))), left),
      button(`Stop, and write the ${unit === "s" ? "seconds" : "minutes"}`, async () => {
        await drop("timers", id);
        taken(reading(watch));
        draw();
      }),
      button("Stop without writing", async () => { await drop("timers", id); draw(); }, "link"),
    );
  };
  draw();
  return box;
}

let sound;
function unlockSound() {
  // A browser lets a page sound only after somebody touched it.
  sound ??= "AudioContext" in window ? new AudioContext() : null;
  sound?.resume?.();
}

function ring() {
  navigator.vibrate?.([400, 200, 400]);
  if (!sound || sound.state !== "running") return;
  for (const start of [0, 0.35, 0.7]) {
    const tone = sound.createOscillator();
    tone.frequency.value = 880;
    tone.connect(sound.destination);
    tone.start(sound.currentTime + start);
    tone.stop(sound.currentTime + start + 0.2);
  }
}

/** Keep every watch going: its face, the strip on top, the title, and the alarm when its time is up. */
export function keepTime(strip, owner) {
  setInterval(async () => {
    const mine = (await all("timers")).filter((watch) => watch.owner === owner());
    for (const watch of mine) {
      for (const shown of document.querySelectorAll(`[data-watch="${CSS.escape(watch.id)}"]`)) {
        shown.textContent = face(elapsed(watch));
      }
      if (isUp(watch) && !watch.rung) { await put("timers", { ...watch, rung: true }); ring(); }
    }
    const up = mine.filter(isUp);
    document.title = up.length ? UP + up[0].title : plainTitle;
    const words = mine.map((watch) => `${watch.title}${isUp(watch) ? ": time is up" : ""}`).join("|");
    if (strip.dataset.words === words) return;
    strip.dataset.words = words;
    strip.replaceChildren(...mine.map((watch) => h("p", { className: isUp(watch) ? "caution" : "note", role: isUp(watch) ? "alert" : null },
      h("a", { href: watch.to }, watch.title), " ",
      isUp(watch) ? h("b", {}, "Time is up.") : h("span", { className: "num", data: { watch: watch.id } }, face(elapsed(watch))))));
  }, 1000);
}

const isUp = (watch) => Boolean(watch.goal) && elapsed(watch) >= watch.goal * PER[watch.unit];
