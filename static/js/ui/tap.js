// One tap: the entry is kept on this phone first, then the tile says so where
// the finger is, then it is sent. Every form that logs one entry of a bag goes
// this way; without this script it posts itself.
import { entryOf, clock } from "../lib/entry.js";
import { all, changed, drop, keep, stamped, takeBack, uuid } from "../lib/outbox.js";
import { answered, direct, flush } from "../lib/send.js";
import { wake, logged, refused } from "../lib/signal.js";

const REST = 700; // milliseconds in which a second tap is the first one's echo
const busy = new WeakSet();

export function enhance(main) {
  main.addEventListener("submit", (event) => {
    const form = event.target;
    const bag = /\/B\/(\w{8})\/(entries|photo)$/.exec(form.action);
    if (!bag || form.elements.at?.value) return; // a time of long ago is the farm's to read, in its own zone
    event.preventDefault();
    wake();
    if (busy.has(form)) return;
    busy.add(form);
    log(form, bag[1], new FormData(form, event.submitter), event.submitter).finally(() => busy.delete(form));
  });
}

async function log(form, bag, fields, button) {
  const picture = fields.get("photo");
  fields.delete("photo");
  if (picture) fields.set("kind", "photo");
  const entry = entryOf(fields, uuid());
  const item = stamped({ id: entry.id, bag, entry, words: `${words(button)}, ${form.dataset.of ?? document.title.split(" · ")[0]}`, ...picture && { picture } });
  const earlier = form.said?.dataset.refused; // this answer takes the place of one that did not fit
  try {
    await keep(item);
    if (earlier) await drop(Number(earlier));
  } catch {
    return unkept(form, item);
  }
  settled(form, item);
  const sent = await deliver(form, item.id);
  if (sent && form.dataset.then) location.assign(form.dataset.then + (entry.kind === "void" ? "" : `?logged=${entry.id}`)); // the page that follows can take it back too
}

// deliver resolves to whether all was sent. A refusal stays in the outbox until
// somebody has answered it: the page may be left before it was seen.
async function deliver(form, id) {
  answered.add(id);
  const sent = await flush();
  const mine = (await all()).find((i) => i.id === id);
  if (mine?.refused && form.isConnected) { fail(form, mine); changed(); return false; }
  answered.delete(id);
  if (mine) changed();
  return sent;
}

const words = (button) => button?.querySelector(".word")?.textContent ?? button?.textContent ?? "Photo";

// settled says that it is kept, by sound and where the finger is.
function settled(form, item) {
  logged();
  if (item.entry.kind === "contaminated") document.cookie = `bm_gloves=${item.bag}; path=/; max-age=14400; samesite=lax`; // the next bag's page asks
  const said = say(form, `${item.entry.kind === "void" ? "taken back" : "logged"} ${clock(new Date(item.wall))}`);
  const button = said.querySelector("button");
  if (item.entry.kind === "void") { button.remove(); return; }
  button.disabled = true;
  setTimeout(() => { button.disabled = false; button.focus({ preventScroll: true }); }, REST);
  button.addEventListener("click", () => undo(form, item, said, button));
}

// say puts words and undo in the form's place.
function say(form, text) {
  form.said?.remove();
  form.querySelectorAll(".error").forEach((e) => e.remove());
  const said = form.said = document.getElementById("did").content.firstElementChild.cloneNode(true);
  said.querySelector(".said").textContent = text;
  form.hidden = true;
  form.after(said);
  return said;
}

// unkept: this phone keeps nothing (private window, full disk). Only the farm's
// own answer counts then.
async function unkept(form, item) {
  const answer = item.picture ? undefined : await direct(item);
  if (answer?.body) return settled(form, item);
  refused();
  show(form, answer?.refused ? `Not logged: ${answer.refused}` : "NOT SAVED. This phone keeps nothing (a private window, or its memory is full) and the farm does not answer. Tap again.");
}

async function undo(form, { id, bag }, said, button) {
  wake();
  button.disabled = true;
  const void_ = uuid();
  await takeBack(id, stamped({ id: void_, bag, entry: { id: void_, kind: "void", entry: id }, words: "Taking back" }));
  await deliver(form, void_);
  if (form.said.dataset.refused) return;
  logged();
  said.remove();
  form.hidden = false;
  form.querySelector("button").focus({ preventScroll: true });
}

// fail shows the farm's refusal with the form as it was filled in.
function fail(form, { refused: message, seq, wrong = {} }) {
  refused();
  const said = show(form, `Not logged: ${message}`);
  for (const name in wrong) form.elements[name]?.after?.(Object.assign(document.createElement("span"), { className: "error", textContent: wrong[name] }));
  (form.querySelector(".error") ?? said).scrollIntoView({ block: "center" });
  said.dataset.refused = seq;
  const button = Object.assign(document.createElement("button"), { type: "button", className: "button", textContent: "Let it go" });
  button.addEventListener("click", () => drop(seq).then(() => said.remove()));
  said.append(button);
}

function show(form, message) {
  const said = say(form, message);
  said.classList.add("failed");
  said.setAttribute("role", "alert");
  said.querySelector("button").remove();
  form.hidden = false;
  return said;
}
