// Bench and sweep stay on one page: a form marked data-stay is sent and the
// answer takes its part's place, so that sound keeps working and the next scan
// needs no tap. One goes after the other. When the farm does not answer, what
// was done waits in the outbox under the same id, and the page says so.
import { enhanceAll } from "../lib/enhance.js";
import { all, keep, onChange, stamped } from "../lib/outbox.js";
import { flush, waiting } from "../lib/send.js";
import { uuid } from "../lib/uuid.js";
import * as signal from "../lib/signal.js";

const PATIENCE = 4000; // milliseconds for an answer
const sounds = { logged: signal.logged, refused: signal.refused, off: signal.switchOff };
let timer;
let turn = Promise.resolve();

export function enhance(box) {
  box.addEventListener("submit", (event) => {
    const form = event.target;
    if (!("stay" in form.dataset)) return;
    event.preventDefault();
    signal.wake();
    const fields = new FormData(form, event.submitter);
    fields.set("id", uuid()); // the page may be an old one, kept on this phone
    form.querySelector("input[name=code]:not([type=hidden])")?.form.reset();
    turn = turn.then(() => act(form.getAttribute("action"), fields)).catch(() => signal.refused());
  });
  setTimeout(() => import("../lib/awaybench.js").catch(() => {}), 1500);
  clearTimeout(timer);
  const seconds = Number(box.dataset.refreshIn || 0);
  if (seconds > 0) {
    timer = setTimeout(() => { turn = turn.then(() => load(location.pathname, {})).then(signal.switchOff, () => {}); }, seconds * 1000);
  }
}

const here = () => document.querySelector("[data-ui~=stay]");

async function act(path, fields) {
  const item = stamped({ id: fields.get("id"), path, fields: [...fields], words: here().querySelector("h1").textContent });
  const before = waiting(await all().catch(() => [])).some((i) => i.path === path);
  if (!before) {
    try {
      return await load(path, { method: "POST", body: new URLSearchParams(fields) });
    } catch { /* no answer: it waits */ }
  }
  const { shown } = await import("../lib/awaybench.js");
  try {
    await keep(item);
  } catch {
    return shown(here(), fields, false);
  }
  shown(here(), fields, true);
  flush().catch(() => {});
}

// Once all that waited is sent the page shows what the farm made of it.
let waited = false;
onChange(async () => {
  const waits = waiting(await all()).some((i) => i.path === location.pathname);
  if (waited && !waits) turn = turn.then(() => load(location.pathname, {})).catch(() => {});
  waited = waits;
});

// load throws where there was no answer of the farm's.
async function load(path, options) {
  const stop = new AbortController();
  const limit = setTimeout(() => stop.abort(), PATIENCE);
  let page;
  try {
    const answer = await fetch(path, { ...options, signal: stop.signal });
    if (new URL(answer.url).pathname !== location.pathname) { location.assign(answer.url); return; } // signed out meanwhile
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } finally {
    clearTimeout(limit);
  }
  const fresh = page.querySelector("[data-ui~=stay]");
  if (!fresh) throw new Error("not a page of the farm's");
  document.body.className = page.body.className;
  here().replaceWith(fresh);
  await enhanceAll(fresh.parentNode);
  sounds[fresh.dataset.sound]?.();
}
