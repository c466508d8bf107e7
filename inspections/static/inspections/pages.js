// The pages of the app: where to walk, one walk in bay order, a check, what waits, the signature and what it came to.

import { button, day, h, level, link, many, span, when } from "./dom.js";
import { all, get, put } from "./store.js";
import { LINKS } from "./links.js";
import { enqueue, giveUp, lastSent, queued, send, signal } from "./queue.js";
import { checkForm, readings } from "./forms.js";
import { canScan, scan } from "./scan.js";

const OLD = 31 * 86400000; // a list older than this no longer says what is due [ms]
const OUT = new Set(["out of service", "quarantine", "condemned"]);
const id = () => crypto.randomUUID();
const page = (title, ...parts) => ({ title, node: h("div", { className: "phone round stack" }, parts) });
const crumb = (...parts) => h("p", { className: "crumb" }, link("#/", "Walk"), ...parts.map((part) => [" / ", part]));

// Where to walk --------------------------------------------------------------------------------------------------------

export async function home(me) {
  const seen = (await get("meta", `overview/${me.owner}`))?.value;
  const packs = new Map((await all("packs", me.owner)).map((pack) => [pack.place.pk, pack]));
  const mine = (await all("walks", me.owner)).filter((walk) => !walk.signed_at);
  const here = new Set(mine.map((walk) => walk.client_id));
  const others = (seen?.walks || []).filter((walk) => !here.has(walk.client_id));
  const signed = (await all("walks", me.owner)).filter((walk) => walk.signed_at).sort((a, b) => b.signed_at.localeCompare(a.signed_at)).slice(0, 5);
  return page("Walk",
    h("div", {}, h("h1", {}, "Walk"), h("p", { className: "sub" }, `${me.name}, ${me.department_name}. `, seen ? `Lists as of ${when(seen.made_at)}.` : "No lists are on this phone yet.")),
    seen && Date.now() - Date.parse(seen.made_at) > OLD && h("p", { className: "caution" }, "These lists are older than a month: what is due may have changed. Open this page once with signal."),
    await waitingPanel(me),
    mine.length ? h("section", { className: "sheet pad", "aria-labelledby": "mine" }, h("h2", { id: "mine" }, "Go on with"),
      h("ul", { className: "checks" }, mine.map((walk) => h("li", {}, h("a", { className: "btn", href: `#/walk/${walk.client_id}` },
        h("span", {}, walk.place_name), h("small", {}, `since ${when(walk.started_at)}`)))))) : "",
    others.length ? h("section", { className: "sheet pad", "aria-labelledby": "others" }, h("h2", { id: "others" }, "Open elsewhere"),
      h("ul", { className: "things" }, others.map((walk) => h("li", { className: "thing" }, h("h3", {}, walk.place_name),
        h("p", { className: "what" }, `${walk.walker === me.user ? "Yours" : walk.walker_name}, since ${when(walk.started_at)}, ${many(walk.done.length, "check")} done.`),
        button(walk.walker === me.user ? "Go on with it here" : `Take it up from ${walk.walker_name}`, () => takeUp(me, walk)))))) : "",
    h("section", { className: "sheet pad", "aria-labelledby": "places" }, h("h2", { id: "places" }, "Places"),
      seen?.places.length ? h("ul", { className: "things" }, seen.places.map((place) => h("li", { className: "thing" }, h("h3", {}, place.name),
        h("p", { className: "what" }, `${many(place.things, "thing")}; ${place.words}.`),
        packs.has(place.pk) ? button(["Start a walk", h("span", { className: "vh" }, ` of ${place.name}`)], () => start(me, place), "btn")
          : h("p", { className: "soft" }, "Not on this phone yet; it is fetched while there is signal."))))
        : h("p", { className: "empty" }, "Nothing to walk is on this phone yet. Open this page once with signal, signed in.")),
    signed.length ? h("section", { className: "sheet pad", "aria-labelledby": "signed" }, h("h2", { id: "signed" }, "Signed on this phone"),
      h("ul", { className: "tight" }, signed.map((walk) => h("li", {}, link(`#/done/${walk.client_id}`, `${walk.place_name}, ${when(walk.signed_at)}`, "target"))))) : "",
    h("p", { className: "small" }, link(LINKS.walk, "The Walk’s pages with signal", "target")),
  );
}

/** What waits on this phone, whose it is, since when, and what keeps it here. */
async function waitingPanel(me, { whole = false } = {}) {
  const rows = await queued(me.owner);
  const refused = rows.filter((row) => row.state === "refused").length;
  const others = new Map();
  for (const row of await queued()) if (row.owner !== me.owner) others.set(row.by, (others.get(row.by) || 0) + 1);
  const sent = await lastSent(me.owner);
  const last = sent ? `Last sent ${when(sent)}.` : "Nothing was sent from here yet.";
  const why = {
    none: "No signal. It is sent when signal is back.",
    "signed-out": ["You are signed out. Nothing is lost: ", link(`${LINKS.signIn}?next=${LINKS.offline}`, "sign in"), ", and it is sent."],
    other: ["Somebody else is signed in on this phone. ", link(`${LINKS.signIn}?next=${LINKS.offline}`, `Sign in as ${me.name}`), ", and it is sent."],
    trouble: "The server does not answer as it should. It is tried again.",
    barred: "Your role does not carry walks here, or the page is too old: load it anew.",
  }[signal.state];
  return h("section", { className: "sheet pad waiting", "aria-labelledby": "waits", id: "waiting" }, h("h2", { id: "waits" }, "On this phone"),
    rows.length
      ? h("p", {}, h("b", {}, `${many(rows.length, "record")} ${rows.length === 1 ? "waits" : "wait"}`), `, the oldest since ${when(rows[0].made_at)}. ${last}`)
      : h("p", {}, `Nothing waits. ${last}`),
    refused ? h("p", { className: "caution" }, h("b", {}, `${many(refused, "record")} refused.`), " Kept here with what the server said: ", link("#/waiting", "mend or give up"), ".") : "",
    rows.length || signal.state !== "ok" ? h("p", {}, why || "") : "",
    [...others].map(([name, n]) => h("p", { className: "note" }, `${many(n, "record")} of ${name} ${n === 1 ? "waits" : "wait"} here, and ${n === 1 ? "is" : "are"} sent when ${name} signs in.`)),
    rows.length ? h("div", { className: "actions" }, button("Send now", () => send()), whole ? "" : link("#/waiting", "What waits", "btn second")) : "");
}

/** The key of a walk: two people on one phone each keep their own view of it. */
const kept = (me, clientId) => ({ id: `${me.owner}/${clientId}`, client_id: clientId, owner: me.owner });

async function start(me, place) {
  navigator.storage?.persist?.();
  const walk = { ...kept(me, id()), place: place.pk, place_name: place.name, started_at: new Date().toISOString(), signed_at: "" };
  await enqueue(["walks"], {
    client_id: walk.client_id, owner: me.owner, by: me.name, kind: "walk", walk: walk.client_id, what: `Walk of ${place.name}, begun`,
    body: { place: place.pk, happened_at: walk.started_at },
  }, (at) => at("walks").put(walk));
  location.hash = `#/walk/${walk.client_id}`;
}

async function takeUp(me, open) {
  const walk = { ...kept(me, open.client_id), place: open.place, place_name: open.place_name, started_at: open.started_at, signed_at: "", done: open.done };
  if (open.walker === me.user) await put("walks", walk);
  else {
    await enqueue(["walks"], {
      client_id: id(), owner: me.owner, by: me.name, kind: "take-up", walk: walk.client_id, what: `Walk of ${open.place_name}, taken up from ${open.walker_name}`,
      body: { walk: walk.client_id, happened_at: new Date().toISOString() },
    }, (at) => at("walks").put(walk));
  }
  location.hash = `#/walk/${walk.client_id}`;
}

// One walk -------------------------------------------------------------------------------------------------------------

/** A walk with its place, and everything done on it: here and waiting, sent from here, or done by others. */
async function walkWhole(me, walkId) {
  const walk = await get("walks", `${me.owner}/${walkId}`);
  if (!walk) return null;
  const pack = await get("packs", `${me.owner}/${walk.place}`);
  if (!pack) return { walk, pack: null };
  const seen = (await get("meta", `overview/${me.owner}`))?.value;
  const known = [...(seen?.walks || []), ...pack.walks].find((one) => one.client_id === walkId);
  const waiting = (await queued(me.owner)).filter((row) => row.walk === walkId);
  const sent = (await all("sent", me.owner)).filter((row) => row.walk === walkId);
  const mine = new Set(sent.map((row) => row.id));
  const done = [
    ...(known?.done || walk.done || []).filter((one) => !mine.has(one.client_id)).map((one) => ({ ...one, url: LINKS.record.replace(/0{8}[-0]*/, one.client_id) })),
    ...sent.filter((row) => row.of).map((row) => ({ ...row.of, client_id: row.id, verdict: row.answer.verdict || "counted", summary: row.answer.summary, url: row.answer.url, by: me.name, at: row.at })),
    ...waiting.filter((row) => row.of).map((row) => ({ ...row.of, client_id: row.client_id, waits: true, refused: row.state === "refused" })),
  ];
  const seals = [...sent, ...waiting].filter((row) => row.seal).map((row) => row.seal);
  const drafts = (await all("drafts", me.owner)).filter((draft) => draft.walk === walkId);
  const shut = new Set(pack.containers.filter((box) => isShut(box, seals)).map((box) => box.pk));
  const doneOf = (row) => done.filter((one) => one.of === row.of && one.pk === row.pk && (one.line ?? null) === (row.line ?? null));
  const reached = (row) => doneOf(row).length > 0 || (row.of === "lot" && shut.has(row.place));
  return { walk, pack, waiting, sent, done, doneOf, reached, seals, shut, drafts };
}

/** Whether a container's seal was seen unbroken on this walk under the number it was applied with. */
function isShut(box, seals) {
  const last = seals.filter((seal) => seal.place === box.pk).at(-1);
  return last?.event === "intact" && plain(last.number) === plain(box.seal) && Boolean(box.seal);
}

const plain = (number) => number.toLowerCase().replace(/[^\p{L}\p{N}]/gu, "");

function nextOf(whole, after) {
  const rows = whole.pack.rows;
  const at = Math.max(0, rows.findIndex((row) => after && row.of === after.of && row.pk === after.pk));
  for (const row of [...rows.slice(at), ...rows.slice(0, at), ...whole.pack.lines]) {
    if (row.of === "lot" && whole.shut.has(row.place)) continue;
    const check = row.checks.find((one) => one.pressing && one.form && !whole.doneOf(row).some((did) => did.key === one.key));
    if (check) return { row, check };
  }
  return null;
}

const toCheck = (walkId, row, check) => `#/check/${walkId}/${row.of}/${row.pk}/${check.key}${row.line ? `/${row.line}` : ""}`;

/** The tag looked for on each walk, while the page is open: drawn anew, the page still shows what was looked for. */
const lookedFor = new Map();

export async function walkPage(me, walkId, after) {
  const whole = await walkWhole(me, walkId);
  if (!whole) return notHere("This walk is not on this phone.");
  if (!whole.pack) return notHere("The list of this place is not on this phone yet; it is fetched while there is signal.");
  const { walk, pack } = whole;
  const reached = pack.rows.filter(whole.reached).length;
  const left = [...pack.rows, ...pack.lines].reduce((n, row) => n + row.checks.filter((check) => check.due && !whole.doneOf(row).some((did) => did.key === check.key)).length, 0);
  const list = h("section", { className: "sheet pad", "aria-labelledby": "in-order" });
  const draw = (typed) => {
    lookedFor.set(walkId, typed);
    const found = matching(pack.rows, typed);
    list.replaceChildren(h("h2", { className: "vh", id: "in-order" }, "In bay order"),
      typed ? h("p", { className: "soft", role: "status" }, `${found.length} of ${pack.rows.length} match “${typed}”.`) : "",
      found.length ? h("ul", { className: "things" }, found.map((row) => drawRow(me, whole, row))) : h("p", { className: "empty" }, typed ? `Nothing here bears “${typed}”. It may stand elsewhere.` : "Nothing stands here."));
  };
  if (after) lookedFor.delete(walkId); // back from a check: the whole bay again
  const sought = lookedFor.get(walkId) || "";
  draw(sought);
  const tag = h("input", { id: "tag", type: "search", value: sought, autocomplete: "off", autocapitalize: "characters", enterkeyhint: "search", on: { input: (e) => draw(e.target.value) } });
  const camera = h("div", {});
  const next = nextOf(whole, after);
  const open = !walk.signed_at;
  return page(`Walk, ${walk.place_name}`,
    h("div", {}, crumb(walk.place_name), h("h1", {}, walk.place_name),
      h("p", { className: "sub" }, h("b", {}, `${reached} of ${pack.rows.length}`), ` reached. ${many(left, "check")} still due. Begun ${when(walk.started_at)}. `,
        whole.waiting.length ? link("#/waiting", `${many(whole.waiting.length, "record")} ${whole.waiting.length === 1 ? "waits" : "wait"} to be sent`) : "",
        h("progress", { className: "progress", max: pack.rows.length || 1, value: reached, "aria-label": "Reached" }))),
    open ? "" : h("p", { className: "note" }, `Signed ${when(walk.signed_at)}. `, link(`#/done/${walk.client_id}`, "What it came to")),
    h("div", { className: "field" }, h("label", { for: "tag" }, "Tag, typed or scanned"), tag, camera,
      canScan() && button("Scan a label", async () => { const said = await scan(camera); if (said) { tag.value = said; draw(said); } })),
    await Promise.all(pack.containers.map((box) => drawContainer(me, whole, box))),
    list,
    pack.lines.length ? h("section", { className: "sheet pad", "aria-labelledby": "lines" }, h("h2", { id: "lines" }, "Lines at home here"), h("ul", { className: "things" }, pack.lines.map((row) => drawRow(me, whole, row)))) : "",
    open ? h("div", { className: "stick" }, next ? link(toCheck(walk.client_id, next.row, next.check), `Next: ${next.row.label}, ${next.check.name}`, "btn") : "",
      link(`#/sign/${walk.client_id}`, "Sign", next ? "btn second" : "btn")) : "");
}

function matching(rows, typed) {
  const wanted = typed.trim().toLowerCase();
  if (!wanted) return rows;
  const exactly = rows.filter((row) => [row.tag, row.serial].some((name) => name && name.toLowerCase() === wanted));
  return exactly.length ? exactly : rows.filter((row) => `${row.tag} ${row.name} ${row.serial}`.toLowerCase().includes(wanted));
}

function drawRow(me, whole, row) {
  const done = whole.doneOf(row);
  const open = !whole.walk.signed_at;
  const did = (check) => done.some((one) => one.key === check.key);
  const can = row.checks.filter((check) => check.form);
  const pressing = can.filter((check) => check.pressing && !did(check));
  const again = can.filter((check) => !pressing.includes(check));
  const begun = (check) => whole.drafts.some((draft) => draft.of === row.of && draft.pk === row.pk && draft.key === check.key && (draft.line ?? null) === (row.line ?? null));
  const entry = (check) => h("li", {}, h("a", { className: `btn second${check.due ? " due" : ""}`, href: toCheck(whole.walk.client_id, row, check) },
    h("span", {}, check.name), h("small", {}, begun(check) ? "begun, kept" : check.words)));
  const names = new Map(row.checks.map((check) => [check.key, check.name]));
  const sealed = row.of === "lot" && whole.shut.has(row.place);
  const at = `${row.of}-${row.pk}${row.line ? `-${row.line}` : ""}`;
  return h("li", { className: "thing", id: at, tabIndex: -1 },
    h("h3", {}, h("span", {}, row.label), row.state && row.state !== "in service" ? level(OUT.has(row.state) ? "fail" : "pass with limits", row.state) : ""),
    h("p", { className: "what" }, [row.of === "lot" ? `lot ${row.tag}` : row.name, row.quantity !== 1 && row.of !== "line" ? `, ${row.quantity}` : "", row.where ? ` · ${row.where}` : "", row.awaiting ? " · awaiting second name" : ""].join("")),
    done.map((one) => h("div", { className: "did" }, one.waits ? level("waits", one.refused ? "refused" : "waits to be sent") : one.verdict === "counted" ? h("b", {}, "counted") : level(one.verdict),
      one.url ? h("a", { className: "target", href: one.url }, names.get(one.key) || one.check) : h("span", {}, names.get(one.key) || one.key),
      one.by && one.by !== me.name ? h("span", { className: "soft small" }, one.by) : "")),
    sealed ? h("p", { className: "did" }, level("waits", "count stands by its seal")) : "",
    open && pressing.length && !sealed ? h("ul", { className: "checks" }, pressing.map(entry)) : "",
    open && row.of === "item" && !pressing.length && !done.length ? button(["Seen in its place", h("span", { className: "vh" }, `: ${row.tag}`)], () => see(me, whole, row)) : "",
    open && (again.length || sealed) ? h("details", { id: `more-${at}` }, h("summary", {}, "More checks", h("span", { className: "vh" }, ` of ${row.tag}`)), h("ul", { className: "checks" }, (sealed ? can : again).map(entry))) : "");
}

async function see(me, whole, row) {
  await enqueue([], checkRecord(me, whole.walk, row, { key: "look", name: "Look" }, { values: { seen: "yes" }, remark: "", happened_at: new Date().toISOString(), started_at: null }));
}

function checkRecord(me, walk, row, check, said) {
  return {
    client_id: id(), owner: me.owner, by: me.name, kind: "check", walk: walk.client_id, what: `${row.label}, ${check.name}`,
    of: { of: row.of, pk: row.pk, key: check.key, line: row.line ?? null, check: check.name }, body: { walk: walk.client_id, [row.of]: row.pk, check_key: check.key, ...said },
  };
}

/** A container: its seal on record, and how it is found. The number is read off the seal, so none is filled in. */
async function drawContainer(me, whole, box) {
  const draftId = `${me.owner}/${whole.walk.client_id}/seal/${box.pk}`;
  const draft = (await get("drafts", draftId)) || { id: draftId, owner: me.owner, walk: whole.walk.client_id, values: {} };
  const seals = whole.seals.filter((seal) => seal.place === box.pk);
  const inside = whole.pack.rows.filter((row) => row.of === "lot" && row.place === box.pk).length;
  const input = h("input", { id: `seal-${box.pk}`, type: "text", maxLength: 40, autocomplete: "off", autocapitalize: "characters", value: draft.values.number || "", on: { input: (e) => { draft.values.number = e.target.value; return put("drafts", draft); } } });
  const wrong = h("p", { className: "errorlist", role: "alert", hidden: true }, "Read the number off the seal.");
  const record = async (event, words) => {
    const number = input.value.trim();
    wrong.hidden = Boolean(number);
    if (!number) return input.focus();
    const seal = { place: box.pk, event, number, at: new Date().toISOString() };
    return enqueue(["drafts"], {
      client_id: id(), owner: me.owner, by: me.name, kind: "seal", walk: whole.walk.client_id, what: `${box.name}, seal ${number} ${words}`, seal,
      body: { place: box.pk, event, number, happened_at: seal.at },
    }, (at) => at("drafts").delete(draftId));
  };
  const last = seals.at(-1);
  const said = !last ? "" : last.event !== "intact" ? `Seal ${last.number} recorded.`
    : whole.shut.has(box.pk) ? `Seal ${last.number} unbroken: the last count of ${many(inside, "lot")} inside stands.`
      : `Seal ${last.number} is not the one on record${box.seal ? ` (${box.seal})` : ""}: count what is inside, then seal it anew.`;
  const known = box.seal ? `Seal on record: applied ${day(box.applied_at)} by ${box.applied_by}.` : box.doubt ? `No seal stands: ${box.doubt}.` : "No seal on record.";
  return h("details", { className: "sheet pad more container", id: `box-${box.pk}`, open: Boolean(last || draft.values.number) }, h("summary", {}, `${box.name}, seal`),
    h("p", { className: "small soft" }, known), said && h("p", { className: "note", role: "status" }, said),
    whole.walk.signed_at ? "" : [h("div", { className: "field" }, h("label", { for: `seal-${box.pk}` }, `Number on the seal of ${box.name}`), input, wrong),
      h("div", { className: "checks" }, button("Unbroken", () => record("intact", "unbroken")), button("Broken or opened", () => record("broken", "broken")), button("Sealed anew", () => record("applied", "applied")))]);
}

const notHere = (words) => page("Walk", crumb("not here"), h("h1", {}, "Not on this phone"), h("p", {}, words));

// A check --------------------------------------------------------------------------------------------------------------

export async function checkPage(me, walkId, of, pk, key, line) {
  const whole = await walkWhole(me, walkId);
  const row = whole?.pack && [...whole.pack.rows, ...whole.pack.lines].find((one) => one.of === of && one.pk === Number(pk) && (one.line ?? null) === (line ? Number(line) : null));
  const check = row?.checks.find((one) => one.key === key);
  const form = check && whole.pack.forms[check.form];
  if (!form) return notHere("This check is not on this phone.");
  const draftId = [me.owner, walkId, of, pk, key, line || ""].join("/");
  const draft = (await get("drafts", draftId)) || {
    id: draftId, owner: me.owner, walk: walkId, of, pk: Number(pk), key, line: line ? Number(line) : null, values: {}, photos: [], started_at: new Date().toISOString(),
  };
  // What was made before the signature is still mended; nothing new is added.
  if (whole.walk.signed_at && !draft.mends) return notHere("This walk is signed; nothing is added to it.");
  const mended = draft.mends ? (await queued(me.owner)).find((one) => one.seq === draft.mends) : null;
  const title = row.of === "lot" ? `${row.name}, lot ${row.tag}` : row.of === "line" ? row.tag : `${row.tag} ${row.name}`;
  const done = (finished) => recordCheck(me, whole, row, check, form, finished, mended);
  const to = toCheck(walkId, row, check);
  return page(`${form.name}, ${title}`,
    h("div", {}, crumb(link(`#/walk/${walkId}/${of}-${pk}`, whole.walk.place_name), form.name), h("h1", {}, form.name), h("p", { className: "sub" }, title), form.first && h("p", { className: "small soft" }, form.first)),
    mended ? refusal(mended) : "",
    checkForm({ form, draft, title: row.label, to, words: mended ? "Record, and send again" : "Record", done }));
}

async function recordCheck(me, whole, row, check, form, draft, mended) {
  const now = new Date().toISOString();
  const earlier = draft.values.happened ? new Date(draft.values.happened).toISOString() : "";
  const said = { happened_at: earlier || mended?.body.happened_at || now, started_at: earlier ? null : draft.started_at };
  const found = readings(form, draft.values);
  const remark = (draft.values.remark || "").trim();
  const made = row.line ? countRecord(me, whole.walk, row, found, remark, said) : checkRecord(me, whole.walk, row, check, { values: found, remark, version: form.version, ...said });
  const labels = Object.fromEntries(Object.entries(form.inputs).map(([key, asked]) => [key, asked.label]));
  const record = { ...(mended ? { ...mended, body: made.body, state: "waiting", answer: null } : made), labels };
  const photos = draft.photos.map((photo) => ({
    client_id: id(), owner: me.owner, by: me.name, kind: "photo", walk: whole.walk.client_id, what: `Photo of ${record.what}`, photo, state: "waiting", made_at: now, tries: 0,
    body: { inspection: record.client_id, happened_at: said.happened_at, note: "" },
  }));
  await enqueue(["drafts", "timers"], record, (at) => {
    for (const photo of photos) at("queue").put(photo);
    at("drafts").delete(draft.id);
    for (const key of Object.keys(form.inputs)) at("timers").delete(`${draft.id}/${key}`);
  });
  location.hash = mended ? "#/waiting" : `#/walk/${whole.walk.client_id}/${row.of}-${row.pk}`;
}

function countRecord(me, walk, row, found, note, said) {
  return {
    client_id: id(), owner: me.owner, by: me.name, kind: "count", walk: walk.client_id, what: `${row.label}, lot ${row.tag}, ${row.where}: count`,
    of: { of: row.of, pk: row.pk, key: "count", line: row.line, check: "Count" }, body: { lot: row.pk, line: row.line, counted: found.counted, note, happened_at: said.happened_at },
  };
}

// What waits -------------------------------------------------------------------------------------------------------------

export async function waitingPage(me) {
  const rows = await queued(me.owner);
  const sent = (await all("sent", me.owner)).sort((a, b) => b.at.localeCompare(a.at)).slice(0, 20);
  return page("What waits", crumb("What waits"), h("h1", {}, rows.length ? `${many(rows.length, "record")} ${rows.length === 1 ? "waits" : "wait"}` : "Nothing waits"),
    await waitingPanel(me, { whole: true }),
    rows.length ? h("section", { className: "sheet pad", "aria-labelledby": "in-turn" }, h("h2", { id: "in-turn" }, "In turn"), h("ul", { className: "finds" }, rows.map((row) => drawWaiting(rows, row)))) : "",
    sent.length ? h("section", { className: "sheet pad", "aria-labelledby": "sent" }, h("h2", { id: "sent" }, "Sent lately"), h("ul", { className: "finds" }, sent.map((row) => h("li", {},
      row.answer.verdict ? level(row.answer.verdict) : h("b", {}, "Recorded."), " ", row.answer.url ? h("a", { className: "target", href: row.answer.url }, row.what) : row.what,
      row.answer.summary ? h("p", { className: "small" }, row.answer.summary) : "", row.answer.remark ? h("p", { className: "small soft" }, row.answer.remark) : "", h("p", { className: "small soft" }, `Sent ${when(row.at)}`))))) : "");
}

function drawWaiting(rows, row) {
  const refused = row.state === "refused";
  const parent = row.kind === "photo" ? rows.find((other) => other.client_id === row.body.inspection) : null;
  const behind = row.kind === "sign" && rows.some((other) => other.walk === row.walk && other !== row);
  const why = parent ? "Waits for its check." : behind ? "Waits for everything else of its walk." : row.answer?.what && !refused ? row.answer.what : "";
  return h("li", {}, level(refused ? "fail" : "waits", refused ? "refused" : "waits"), " ", h("b", {}, row.what),
    refused ? refusal(row) : "", h("p", { className: "small soft" }, `Made ${when(row.made_at)}. ${why}`),
    refused ? h("div", { className: "checks" }, row.kind === "check" || row.kind === "count" ? button("Mend it", () => mend(row)) : row.kind === "sign" ? button("Take it up, then sign", () => takeBack(row)) : button("Send it again", async () => { await put("queue", { ...row, state: "waiting" }); send(); }),
      h("details", { id: `up-${row.seq}` }, h("summary", {}, "Give it up"), h("p", { className: "small" }, row.kind === "walk" || row.kind === "take-up" ? "The walk is then not recorded; its checks are sent alone." : "It is then gone from this phone, and was never recorded."), button("Give it up for good", () => giveUp(row), "btn grave"))) : "");
}

/** Take a walk up again that somebody else went on with, and sign it then: the signature waits for the rest. */
async function takeBack(row) {
  await enqueue([], {
    client_id: id(), owner: row.owner, by: row.by, kind: "take-up", walk: row.walk, what: `${row.what.replace(", signed", "")}, taken up again`,
    body: { walk: row.walk, happened_at: new Date().toISOString() },
  }, (at) => at("queue").put({ ...row, state: "waiting", answer: null }));
}

function refusal(row) {
  const said = row.answer?.problems?.length ? row.answer.problems : [{ what: row.answer?.what || "", mend: row.answer?.mend || "" }];
  return h("div", { className: "wrong" }, h("b", {}, "The server refused it: "), h("ul", {}, said.map((one) => h("li", {}, one.where ? `${row.labels?.[one.where] || one.where.replace(/_/g, " ")}: ` : "", `${one.what} `.replace(/([^.])\s$/, "$1. "), one.mend || ""))));
}

/** Take a refused check back into its form, with everything that was typed. */
async function mend(row) {
  const { of, pk, key, line } = row.of;
  const draft = {
    id: [row.owner, row.walk, of, pk, key, line || ""].join("/"), owner: row.owner, walk: row.walk, of, pk, key, line, photos: [], started_at: row.body.started_at, mends: row.seq,
    values: { ...(row.body.values || { counted: row.body.counted }), remark: row.body.remark || row.body.note || "" },
  };
  await put("drafts", draft);
  location.hash = `#/check/${row.walk}/${of}/${pk}/${key}${line ? `/${line}` : ""}`;
}

// The signature ----------------------------------------------------------------------------------------------------------

export async function signPage(me, walkId) {
  const whole = await walkWhole(me, walkId);
  if (!whole?.pack) return notHere("This walk is not on this phone.");
  if (whole.walk.signed_at) return donePage(me, walkId);
  const { walk, pack } = whole;
  const left = pack.rows.filter((row) => !whole.reached(row));
  const found = whole.done.filter((one) => one.verdict && !["pass", "counted"].includes(one.verdict));
  const draftId = `${me.owner}/${walkId}/sign`;
  const draft = (await get("drafts", draftId)) || { id: draftId, owner: me.owner, walk: walkId, values: {}, photos: [] };
  const field = (key, label, make) => {
    const input = h(make, { id: key, maxLength: key === "note" ? 2000 : 120, autocomplete: "off", on: { input: (e) => { draft.values[key] = e.target.value; return put("drafts", draft); } } });
    input.value = draft.values[key] || "";
    return h("div", { className: "field", data: { field: key } }, h("label", { for: key }, label), input);
  };
  const wrong = h("div", { className: "wrong", role: "alert", tabIndex: -1, hidden: true });
  const refuse = (words) => { wrong.hidden = false; wrong.replaceChildren(h("b", {}, words)); wrong.focus(); };
  const sign = async (event) => {
    event.preventDefault();
    const name = (draft.values.signed_name || "").trim();
    if (!name) return refuse("Sign with your name.");
    if (name.toLowerCase().replace(/\s+/g, " ") !== me.name.toLowerCase()) return refuse(`Sign with your own name, ${me.name}.`);
    if (!whole.done.length) return refuse("Nothing was checked on this walk; there is nothing to sign.");
    const signedAt = new Date().toISOString();
    await enqueue(["walks", "drafts"], {
      client_id: id(), owner: me.owner, by: me.name, kind: "sign", walk: walkId, what: `Walk of ${walk.place_name}, signed`, body: { walk: walkId, signed_name: name, note: draft.values.note || "", happened_at: signedAt },
    }, (at) => { at("walks").put({ ...walk, signed_at: signedAt }); at("drafts").delete(draftId); });
    location.hash = `#/done/${walkId}`;
  };
  return page(`Sign, ${walk.place_name}`,
    h("div", {}, crumb(link(`#/walk/${walkId}`, walk.place_name), "Sign"), h("h1", {}, `${pack.rows.length - left.length} of ${pack.rows.length} reached`),
      h("p", { className: "sub" }, `${walk.place_name}. Begun ${when(walk.started_at)}. ${many(whole.done.length, "check")}.`)),
    whole.drafts.filter((one) => one.key).length ? h("p", { className: "caution" }, `${many(whole.drafts.filter((one) => one.key).length, "check")} begun and not recorded.`) : "",
    found.length ? h("section", { className: "sheet pad" }, h("h2", {}, "Not passed"), h("ul", { className: "finds" }, found.map((one) => h("li", {}, level(one.verdict), " ", one.check || one.key, one.summary ? h("p", { className: "small" }, one.summary) : "")))) : "",
    left.length ? h("details", { className: "sheet pad more" }, h("summary", {}, `Not reached: ${left.length}`), h("ul", { className: "tight" }, left.map((row) => h("li", {}, `${row.tag} ${row.name}`)))) : "",
    wrong,
    h("form", { className: "sheet pad", noValidate: true, on: { submit: sign } }, h("p", { className: "statement" }, "I did these checks on this walk and read these numbers myself."),
      field("signed_name", "Your name", "input"), field("note", "Note for whoever reads this", "textarea"),
      h("button", { type: "submit", className: "btn" }, "Sign the walk"),
      h("p", { className: "small soft gap" }, "Signing closes the walk: nothing is added to it afterwards. It is sent after everything else of the walk.")));
}

export async function donePage(me, walkId) {
  const whole = await walkWhole(me, walkId);
  if (!whole?.pack) return notHere("This walk is not on this phone.");
  const { walk, pack, waiting } = whole;
  const answer = whole.sent.find((row) => row.kind === "sign")?.answer;
  const reached = answer?.done ?? { reached: pack.rows.filter(whole.reached).length, total: pack.rows.length };
  const found = whole.done.filter((one) => one.verdict && !["pass", "counted"].includes(one.verdict));
  const took = Date.parse(walk.signed_at || new Date()) - Date.parse(walk.started_at);
  return page(`Done, ${walk.place_name}`,
    h("div", {}, crumb(link(`#/walk/${walkId}`, walk.place_name), "Done"),
      h("h1", {}, `${reached.reached} of ${reached.total}, ${waiting.length && !answer ? "what was found is known when sent" : `${answer?.done?.found ?? found.length} found`}, ${span(took)}`),
      h("p", { className: "sub" }, `${walk.place_name}. `, walk.signed_at ? `Signed ${when(walk.signed_at)}.` : "Not signed yet.")),
    waiting.length ? h("p", { className: "note" }, h("b", {}, `${many(waiting.length, "record")} of this walk ${waiting.length === 1 ? "waits" : "wait"}.`), " Kept on this phone and sent when there is signal. ", link("#/waiting", "What waits")) : h("p", { className: "note" }, "Everything of this walk is sent. ", answer?.url ? link(answer.url, "Its record") : ""),
    found.length ? h("section", { className: "sheet pad" }, h("h2", {}, "Found"), h("ul", { className: "finds" }, found.map((one) => h("li", {}, level(one.verdict), " ", h("a", { className: "target", href: one.url }, `${nameOf(pack, one)}, ${one.check || one.key}`), one.summary ? h("p", { className: "small" }, one.summary) : "")))) : "",
    answer?.done?.quality?.length ? h("section", { className: "sheet pad" }, h("h2", {}, "How it was walked"), h("p", { className: "small soft" }, "For whoever reads the record; it blames nobody."), h("ul", { className: "tight" }, answer.done.quality.map((words) => h("li", {}, words)))) : "",
    link("#/", "Back to the places", "btn"));
}

function nameOf(pack, one) {
  return [...pack.rows, ...pack.lines].find((row) => row.of === one.of && row.pk === one.pk)?.label || "";
}
