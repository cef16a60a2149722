// Bench and sweep stay on one page: a form marked data-stay is sent and the
// answer takes its part's place, so that sound keeps working and the next scan
// needs no tap. What is done is kept on this phone before anything else, and
// goes to the farm one after the other. When the farm does not answer it waits
// in the outbox under the same id, and the page says so.
import { enhanceAll } from "../lib/enhance.js";
import { all, forget, keep, onChange, stamped, uuid } from "../lib/outbox.js";
import { flush, hold, letGo, waiting } from "../lib/send.js";
import * as signal from "../lib/signal.js";
import { intoView } from "../lib/view.js";

const PATIENCE = 4000; // milliseconds for an answer
const REST = 400; // milliseconds in which the same tap again is the first one's echo: a wet glove's, or a double tap
const sounds = { logged: signal.logged, refused: signal.refused, off: signal.switchOff, place: signal.turned };
let timer;
let turn = Promise.resolve();
let tapped = ["", 0];

export function enhance(box) {
  box.addEventListener("submit", (event) => {
    const form = event.target;
    if (!("stay" in form.dataset)) return;
    event.preventDefault();
    signal.wake();
    const fields = new FormData(form, event.submitter);
    const { line, at } = form.dataset;
    delete form.dataset.line;
    delete form.dataset.at;
    fields.delete("id"); // the page may be an old one, kept on this phone
    if (!line && echo(String(new URLSearchParams(fields)), event.timeStamp)) { turn = turn.then(tellEcho); return; }
    if (!line) form.querySelector("input[name=code]:not([type=hidden])")?.form.reset();
    fields.set("id", line ?? uuid());
    begin(form.getAttribute("action"), [...fields], at);
  });
  setTimeout(() => import("../lib/awaybench.js").catch(() => {}), 1500);
  remind(box);
}

// echo tells whether a tap is only the last one's. Whoever goes on tapping is
// heard again after each rest.
function echo(what, at) {
  const again = tapped[0] === what && at - tapped[1] < REST;
  if (!again) tapped = [what, at];
  return again;
}

// tellEcho says why a tap did nothing, beside what the first one did.
function tellEcho() {
  const says = here().querySelector("[data-echo]") ?? Object.assign(document.createElement("p"), { className: "note", textContent: "Two taps at once count as one. Tap again for another." });
  says.dataset.echo = "";
  says.setAttribute("role", "status");
  here().prepend(says);
  intoView(here());
}

function begin(path, fields, at) {
  const id = new Map(fields).get("id");
  const item = stamped({ id, path, fields, words: here().querySelector("h1").textContent });
  if (at) Object.assign(item, { wall: Number(at), mono: item.mono - item.wall + Number(at) });
  hold(id);
  const safe = keep(item).then(() => true, (error) => error?.name === "ConstraintError"); // then it is there already
  safe.then((is) => { if (is) window.lines.settle(id); });
  turn = turn.then(() => act(item, safe)).catch(() => signal.refused()).finally(() => window.lines.settle(id));
}

// remind shows the page anew when it would ask whether the switches are still so.
function remind(box) {
  clearTimeout(timer);
  const seconds = Number(box.dataset.refreshIn || 0);
  if (seconds > 0) timer = setTimeout(() => { turn = turn.then(() => load(location.pathname, {})).then(signal.switchOff, () => {}); }, seconds * 1000);
}

const here = () => document.querySelector("[data-ui~=stay]");

async function act(item, safe) {
  const kept = await safe;
  const before = waiting(await all().catch(() => [])).some((i) => i.path === item.path);
  if (!before) {
    try {
      const times = [["done_at", new Date(item.wall).toISOString()], ["sent_at", new Date().toISOString()]];
      if (await load(item.path, { method: "POST", body: new URLSearchParams([...item.fields, ...times]) })) {
        others?.postMessage(item.path);
        return await forget(item.id).catch(() => {});
      }
    } catch { /* no answer: it waits */ }
  }
  letGo(item.id);
  const { shown } = await import("../lib/awaybench.js");
  shown(here(), new URLSearchParams(item.fields), kept);
  flush().then(flush).catch(() => {}); // twice: the first may have been at its end
}

// Another tab of this phone that shows the same bench or sweep follows.
const others = window.BroadcastChannel && new BroadcastChannel("bagmark-stay");
const follow = () => { turn = turn.then(() => load(location.pathname, {}, true)).catch(() => {}); };
others?.addEventListener("message", ({ data }) => { if (data === location.pathname) follow(); });

// Once all that waited is sent the page shows what the farm made of it.
let waited = false;
onChange(async () => {
  const waits = waiting(await all()).some((i) => i.path === location.pathname);
  if (waited && !waits) { follow(); others?.postMessage(location.pathname); }
  waited = waits;
});

// load shows the farm's answer. It throws where there was none, and gives false
// where the farm led elsewhere, as after signing out.
async function load(path, options, quiet) {
  const stop = new AbortController();
  const limit = setTimeout(() => stop.abort(), PATIENCE);
  let page;
  try {
    const answer = await fetch(path, { ...options, signal: stop.signal });
    if (new URL(answer.url).pathname !== location.pathname) { location.assign(answer.url); return false; }
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } finally {
    clearTimeout(limit);
  }
  const fresh = page.querySelector("[data-ui~=stay]");
  if (!fresh) throw new Error("not a page of the farm's");
  document.body.className = page.body.className;
  const box = show(fresh);
  await enhanceAll(box.parentNode);
  remind(box);
  if (quiet) return true;
  intoView(box);
  sounds[box.dataset.sound]?.();
  return true;
}

// show puts the answer in place. The form that scans go into is never touched:
// somebody may be typing.
function show(fresh) {
  const box = here();
  keepTyped(box, fresh);
  const [form, like] = [box, fresh].map((part) => part.querySelector(":scope > #scans"));
  if (!form || !like) {
    box.replaceWith(fresh);
    return fresh;
  }
  for (const { name } of [...box.attributes]) box.removeAttribute(name);
  for (const { name, value } of fresh.attributes) box.setAttribute(name, value);
  for (const node of [...box.childNodes]) if (node !== form) node.remove();
  const nodes = [...fresh.childNodes];
  const middle = nodes.indexOf(like);
  form.elements.id.value = like.elements.id.value;
  form.before(...nodes.slice(0, middle));
  form.after(...nodes.slice(middle + 1));
  return box;
}

// keepTyped hands what was typed into a form on to the one that takes its place:
// another tab, or another form of the page, may have been what changed it.
function keepTyped(box, fresh) {
  for (const form of box.querySelectorAll("form[data-keep]")) {
    const next = [...fresh.querySelectorAll("form[data-keep]")].find((f) => f.dataset.keep === form.dataset.keep);
    for (const field of next ? form.elements : []) if (changed(field) && next.elements[field.name]) next.elements[field.name].value = field.value;
  }
}

const changed = (field) => field.type === "text" && field.value !== field.defaultValue || field.selectedOptions?.[0]?.defaultSelected === false;
