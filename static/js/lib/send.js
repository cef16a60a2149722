// Sends what waits, one request at a time, oldest first; pictures after all
// else, so that no tap waits for one.
import { LIFE, all, alter, drop, person } from "./outbox.js";

const PATIENCE = 4000; // milliseconds for an answer
const PICTURE = 60000; // the same for a picture: hundreds of kilobytes at the edge of the Wi-Fi
let sending = null;
// Entries whose refusal the page shows where they were tapped, not in the list of what is parked.
export const answered = new Set();
let clocks;
let tries = 0;
let trip; // how the farm's clock differs from the phone's, once asked in this run
export const state = { signedOut: false };

// flush resolves to true when nothing of this person's waits any more.
export const flush = () => (sending ??= run().finally(() => { sending = null; }));

// What a page sends by itself is held: neither sent nor counted until it is let go.
const held = new Set();
export const hold = (id) => held.add(id);
export const letGo = (id) => held.delete(id);

export const waiting = (items) => items.filter((i) => !i.refused && i.by === person() && !held.has(i.id));

async function run() {
  trip = undefined;
  const stuck = new Set();
  for (;;) {
    const items = waiting(await all()).filter((i) => !stuck.has(i.seq));
    const item = items.find((i) => !i.picture) ?? items[0];
    if (!item) return stuck.size === 0;
    const answer = item.picture ? await upload(item) : await post(item);
    if (!answer) return false;
    if (answer.later) stuck.add(item.seq);
    else if (answer.refused) await alter(item.seq, { refused: answer.refused, wrong: answer.wrong });
    else if (answer.picture) await alter(item.seq, { picture: null, entry: { ...item.entry, photo: answer.picture } });
    else await drop(item.seq);
  }
}

async function post(item) {
  const sent = await sentAt(item);
  if (!sent) return undefined;
  if (!await alter(item.seq, { tried: true })) return { gone: true }; // taken back meanwhile
  return direct(item, sent);
}

// direct sends without the outbox; undefined when there was no answer to rely on.
export async function direct(item, sent = new Date().toISOString()) {
  const at = new Date(item.wall).toISOString();
  const answer = await ask(...item.fields
    ? [item.path, new URLSearchParams([...item.fields, ["done_at", at], ["sent_at", sent]])]
    : [`/api/v1/bags/${item.bag}/entries`, JSON.stringify({ ...item.entry, at, sent_at: sent }), "application/json"]);
  return answer?.body?.entry?.id === item.id || answer?.refused || answer?.later ? answer : undefined;
}

async function upload(item) {
  const answer = await ask("/api/v1/photos", item.picture, item.picture.type || "image/jpeg", PICTURE);
  return answer?.body ? answer.body.photo && { picture: answer.body.photo } : answer;
}

// ask gives {body}, {refused: why}, {later} for a fault of the farm's own that
// may be this item's alone, or nothing.
async function ask(path, body, type, patience = PATIENCE) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), patience);
  try {
    const answer = await fetch(path, { method: "POST", headers: { Accept: "application/json", ...type && { "Content-Type": type } }, body, signal: stop.signal });
    state.signedOut = answer.status === 401;
    const said = await answer.json(); // whatever stands between and answers in the farm's name does not say this
    if (answer.ok) return { body: said };
    if (answer.status === 401 || answer.status === 429 || answer.status === 503 || !said.error?.kind) return undefined;
    if (answer.status >= 500) return { later: true };
    return { refused: [said.error.message, ...Object.values(said.error.fields ?? {})].join(": "), wrong: said.error.fields };
  } catch {
    return undefined;
  } finally {
    clearTimeout(timer);
  }
}

// sentAt is the phone's clock now as it would be had nobody set it since the
// tap. The body of an entry never changes: what is put right is the time of
// sending. Where the clocks disagree the farm's is asked.
async function sentAt(item) {
  const wall = Date.now() - item.wall;
  const mono = item.life === LIFE ? performance.now() - item.mono : NaN;
  let passed = mono;
  if (!(Math.abs(wall - mono) < 2000)) {
    try {
      clocks ??= await import(`./clocks.js?${tries++}`); // another address each time: a browser may remember that one failed
      trip ??= await clocks.farmSkew();
      passed = clocks.elapsed(item, wall, mono, trip);
    } catch {
      return undefined;
    }
  }
  return new Date(item.wall + passed).toISOString();
}
