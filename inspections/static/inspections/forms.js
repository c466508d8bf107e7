// A check as a form, drawn from the same procedure as the server's pages. No verdict is given here: the limits in force
// stand beside the fields, and the server judges what is sent. Every touch is kept at once.

import { button, h } from "./dom.js";
import { get, put, write } from "./store.js";
import { watchFor } from "./timers.js";
import { shrunk } from "./pictures.js";

const NOT_TRIED = "not tried";
const NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?(\s.*|[a-z°%"'].*)?$/i;
const BARE = /^[+-]?[\d.]+$/;
const OF = /^(\d+)\s*(of|\/)\s*\d+$/i;

/** Values as they are sent: a word behind a choice stands for it, what was not tried is left out. */
export function readings(form, values) {
  const found = {};
  for (const key of Object.keys(form.inputs)) {
    const value = (values[key] || "").trim();
    const said = (values[`${key}__said`] || "").trim();
    const meant = said && ["", "seen", NOT_TRIED].includes(value) ? said : value;
    if (meant && meant !== NOT_TRIED) found[key] = meant;
  }
  return found;
}

/** What certainly cannot stand, as (key, words): the rest is for the server, which has the last word on all of it. */
export function problems(form, found) {
  const wrong = [];
  for (const [key, value] of Object.entries(found)) {
    const asked = form.inputs[key];
    if (asked.sort !== "number" && asked.sort !== "integer") continue;
    const number = OF.test(value) ? Number(OF.exec(value)[1]) : Number.parseFloat(value.replace(",", "."));
    if (!OF.test(value) && !NUMBER.test(value)) wrong.push([key, "This is not a number."]);
    else if (asked.sort === "integer" && !Number.isInteger(number) && !value.includes(",")) wrong.push([key, "This is not a whole number."]);
    // A number with a unit of its own is turned into ours by the server; here only a bare one can be held to a range.
    else if (BARE.test(value) && ((asked.least !== null && number < asked.least) || (asked.most !== null && number > asked.most))) {
      wrong.push([key, `This is outside ${asked.least} to ${asked.most} ${asked.unit}. Read it again.`.replace(/ \./, ".")]);
    }
  }
  if (found.result || found.void_reason) return wrong;
  for (const [key, asked] of Object.entries(form.inputs)) {
    if (asked.required && !(key in found)) wrong.push([key, "This must be read."]);
  }
  if (!wrong.length && form.one_of.length && !form.one_of.some((key) => key in found)) {
    wrong.push(["", `Nothing was read yet. Give at least one of: ${form.wants.join(", ").toLowerCase()}.`]);
  }
  return wrong;
}

/** Draw a check. `done` gets the draft when it can be recorded. */
export function checkForm({ form, draft, title, to, words, done }) {
  const save = () => put("drafts", draft);
  const node = h("form", { className: "sheet pad", noValidate: true, autocomplete: "off" });
  const field = (key) => drawInput({ key, asked: form.inputs[key], draft, title, to, save });
  const summary = h("div", { className: "wrong", role: "alert", tabIndex: -1, hidden: true });
  node.append(
    h("ol", { className: "steps" }, form.steps.map((step, i) => h("li", { className: "step" },
      h("h2", {}, h("b", {}, String(i + 1)), h("span", {}, step.text)),
      step.caution && h("p", { className: "caution" }, h("b", {}, "Caution."), ` ${step.caution}`),
      step.inputs.map(field)))),
    form.wants.length ? h("p", { className: "small soft" }, `Give at least one of: ${form.wants.join(", ").toLowerCase()}.`) : "",
    drawPhotos(draft),
    h("details", { className: "more" }, h("summary", {}, "Meter, time, result without a number"),
      form.common.map(field),
      drawPlain("happened", "Done earlier? Say when", draft, save, { type: "datetime-local" }, "Leave it empty where the check has just been done."),
      drawPlain("remark", "Remark", draft, save, { maxLength: 150 })),
    h("button", { type: "submit", className: "btn" }, words),
    h("p", { className: "small soft gap" }, "The limits beside the fields are those in force when this list was taken along. The verdict comes when this is sent."),
    form.void_when.length ? h("details", { className: "more" }, h("summary", {}, "What makes it void"),
      h("ul", { className: "tight small" }, form.void_when.map((reason) => h("li", {}, reason)))) : "",
  );
  node.addEventListener("submit", async (event) => {
    event.preventDefault();
    const wrong = problems(form, readings(form, draft.values)).concat(timeProblems(draft));
    show(node, summary, form, wrong);
    if (!wrong.length) await done(draft);
  });
  return [summary, node];
}

function timeProblems(draft) {
  const said = draft.values.happened;
  return said && new Date(said) > new Date() ? [["happened", "This is still to come. Say when it was done."]] : [];
}

/** Put each refusal beside its field and all of them on top, and lead there. */
export function show(node, summary, form, wrong) {
  for (const old of node.querySelectorAll(".errorlist")) old.remove();
  for (const marked of node.querySelectorAll("[aria-invalid]")) marked.removeAttribute("aria-invalid");
  summary.hidden = !wrong.length;
  summary.replaceChildren(h("b", {}, "Not recorded yet."), " What you typed is kept below.", h("ul", {}, wrong.map(([key, said]) => {
    const label = form.inputs[key]?.label || { happened: "When", remark: "Remark" }[key];
    return h("li", {}, label ? h("button", { type: "button", className: "link", on: { click: () => focusOn(node, key) } }, label) : "", label ? `: ${said}` : said);
  })));
  for (const [key, said] of wrong) {
    const box = node.querySelector(`[data-field="${CSS.escape(key)}"]`);
    if (!box) continue;
    box.append(h("ul", { className: "errorlist", id: `wrong_${key}` }, h("li", {}, said)));
    box.querySelector("input, textarea")?.setAttribute("aria-invalid", "true");
  }
  if (wrong.length) summary.focus();
}

function focusOn(node, key) {
  const box = node.querySelector(`[data-field="${CSS.escape(key)}"]`);
  const details = box?.closest("details");
  if (details) details.open = true;
  box?.querySelector("input, textarea")?.focus();
}

function drawInput({ key, asked, draft, title, to, save }) {
  const set = (name, value) => { draft.values[name] = value; return save(); };
  const hints = [asked.help && h("span", { className: "hint", id: `${key}_hint` }, asked.help),
    asked.limit && h("span", { className: "limit", id: `${key}_limit` }, asked.limit)];
  const told = [asked.unit && `${key}_unit`, asked.help && `${key}_hint`, asked.limit && `${key}_limit`].filter(Boolean).join(" ") || null;
  if (asked.choices.length) {
    const three = asked.sort === "yes_no" ? "choices three" : "choices";
    return h("fieldset", { className: "field", data: { field: key }, "aria-describedby": told }, h("legend", {}, asked.label),
      h("div", { className: three }, asked.choices.map(([value, label]) => h("label", { className: "choice" },
        h("input", { type: "radio", name: key, value, checked: draft.values[key] === value, on: { change: () => set(key, value) } }),
        h("span", {}, label)))),
      asked.says && h("label", { className: "said", for: `${key}__said` }, h("span", { className: "vh" }, `${asked.label}. `), asked.says),
      asked.says && h("input", { id: `${key}__said`, type: "text", maxLength: 200, value: draft.values[`${key}__said`] || "", on: { input: (e) => set(`${key}__said`, e.target.value) } }),
      hints);
  }
  const mode = { number: "decimal", integer: "numeric" }[asked.sort];
  const input = h("input", {
    id: key, name: key, type: "text", autocomplete: "off", enterkeyhint: "next", inputmode: mode || null,
    maxLength: mode ? 40 : 200, placeholder: asked.sort === "date" ? "2026-03-14" : null, "aria-describedby": told,
    on: { input: (e) => set(key, e.target.value) },
  });
  input.value = draft.values[key] || "";
  return h("div", { className: "field", data: { field: key } },
    h("label", { for: key }, asked.label, asked.required && h("span", { className: "must" }, " must be read")),
    h("div", { className: "entry" }, input, asked.unit && h("span", { id: `${key}_unit` }, asked.unit)), hints,
    asked.timer && watchFor({
      id: `${draft.id}/${key}`, owner: draft.owner, ...asked.timer, title: `${asked.label}, ${title}`, to,
      taken: (value) => { input.value = value; set(key, value); },
    }));
}

/** A field that belongs to every check. */
function drawPlain(key, label, draft, save, more = {}, hint = "") {
  const input = h(key === "remark" ? "textarea" : "input", {
    id: key, name: key, ...more, "aria-describedby": hint ? `${key}_hint` : null,
    on: { input: (e) => { draft.values[key] = e.target.value; return save(); } },
  });
  input.value = draft.values[key] || "";
  return h("div", { className: "field", data: { field: key } }, h("label", { for: key }, label), input,
    hint && h("span", { className: "hint", id: `${key}_hint` }, hint));
}

/** Photos of a check: kept small, with the draft; shown, and taken away again where somebody says so. */
function drawPhotos(draft) {
  const shown = h("ul", { className: "photos" });
  const draw = async () => {
    const kept = (await Promise.all(draft.photos.map((id) => get("photos", id)))).filter(Boolean);
    for (const image of shown.querySelectorAll("img")) URL.revokeObjectURL(image.src);
    shown.replaceChildren(...kept.map((photo, i) => h("li", {},
      h("img", { src: URL.createObjectURL(new Blob([photo.bytes], { type: photo.type })), alt: `Photo ${i + 1} of this check` }),
      button(`Take photo ${i + 1} away`, async () => {
        draft.photos = draft.photos.filter((id) => id !== photo.id);
        await write(["drafts", "photos"], (at) => { at("drafts").put(draft); at("photos").delete(photo.id); });
        draw();
      }, "link"))));
  };
  const input = h("input", { id: "photo", type: "file", accept: "image/*", capture: "environment", on: {
    change: async () => {
      const said = input.nextSibling;
      for (const file of input.files) {
        const photo = { id: crypto.randomUUID(), owner: draft.owner, ...(await shrunk(file)) };
        draft.photos = [...draft.photos, photo.id];
        await write(["drafts", "photos"], (at) => { at("photos").put(photo); at("drafts").put(draft); });
      }
      input.value = "";
      said.textContent = draft.photos.length ? `Photos kept on this phone: ${draft.photos.length}.` : "";
      draw();
    } } });
  draw();
  return h("div", { className: "field" }, h("label", { for: "photo" }, "Photo"), input, h("span", { className: "hint", role: "status" }, ""), shown);
}
