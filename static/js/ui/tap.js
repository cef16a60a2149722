// One tap: the entry is kept on this phone first, then the tile says so where
// the finger is, then it is sent. Without this script the form posts itself.
import { uuid } from "../lib/uuid.js";
import { entryOf, clock } from "../lib/entry.js";
import { keep, drop, flush, all } from "../lib/outbox.js";
import { wake, logged, refused } from "../lib/signal.js";

export function enhance(form) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    wake();
    log(form, new FormData(form, event.submitter)).catch(() => {
      refused();
      form.submit(); // this browser keeps nothing: the plain way is the safe one
    });
  });
}

async function log(form, fields) {
  const entry = entryOf(fields, uuid(), new Date());
  const bag = form.dataset.bag;
  await keep({ id: entry.id, bag, entry, words: form.dataset.words });
  logged();
  if (entry.kind === "contaminated") document.cookie = `bm_gloves=${bag}; path=/; max-age=14400; samesite=lax`; // the next bag's page asks
  const said = say(form, `logged ${clock(new Date(entry.at))}`, (button) => takeBack(form, said, bag, entry, button));
  const sent = await flush();
  const mine = (await all()).find((item) => item.id === entry.id);
  if (mine?.refused) return fail(said, mine.refused, entry.id);
  if (sent && form.dataset.then) location.assign(form.dataset.then);
}

// say puts "logged 14:05 · undo" in the tile's place.
function say(form, words, undo) {
  const did = document.getElementById("did").content.firstElementChild.cloneNode(true);
  did.querySelector(".said").textContent = words;
  const button = did.querySelector("button");
  button.addEventListener("click", () => undo(button));
  form.hidden = true;
  form.after(did);
  button.focus({ preventScroll: true });
  return did;
}

// takeBack removes an entry that has not left the phone, else voids it.
async function takeBack(form, did, bag, entry, button) {
  wake();
  button.disabled = true;
  const waits = (await all()).some((item) => item.id === entry.id);
  if (waits) {
    await drop(entry.id);
  } else {
    const id = uuid();
    await keep({ id, bag, entry: { id, kind: "void", entry: entry.id, at: new Date().toISOString() }, words: "taking back" });
    await flush();
    const mine = (await all()).find((item) => item.id === id);
    if (mine?.refused) return fail(did, mine.refused, id);
  }
  logged();
  did.remove();
  form.hidden = false;
  form.querySelector("button").focus({ preventScroll: true });
}

async function fail(did, message, id) {
  refused();
  did.classList.add("failed");
  did.querySelector(".said").textContent = `Not logged: ${message}`;
  const button = did.querySelector("button");
  button.replaceWith(Object.assign(document.createElement("a"), { className: "button", textContent: "Again", href: location.pathname }));
  await drop(id);
}
