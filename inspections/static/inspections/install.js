// Lets the walk open without signal: its worker is installed from the Walk's own page, which says what waits here.
import { many } from "./dom.js";
import { all } from "./store.js";

const here = document.querySelector("script[data-worker]");
navigator.serviceWorker?.register(here.dataset.worker, { scope: "/" }).catch(() => {});

if ("indexedDB" in window) {
  const rows = await all("queue");
  const said = document.querySelector("[data-waits]");
  if (rows.length) said.textContent = `${many(rows.length, "record")} ${rows.length === 1 ? "waits" : "wait"} on this phone.`;
  said.hidden = !rows.length;
}
