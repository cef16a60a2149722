// What was tapped and is not yet at the farm, kept on this phone. A tap counts
// as kept only once the browser says that its transaction is complete. An entry
// leaves the outbox only on an answer that repeats its id; one that the farm
// refuses is parked, where the person sees it.
const NAME = "bagmark";
const STORE = "out";
let opening;

function open() {
  opening ??= new Promise((resolve, reject) => {
    const ask = indexedDB.open(NAME, 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore(STORE, { keyPath: "id" });
    ask.onsuccess = () => resolve(ask.result);
    ask.onerror = () => reject(ask.error);
    ask.onblocked = () => reject(new Error("blocked"));
  });
  return opening;
}

async function change(act) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const tx = db.transaction(STORE, "readwrite", { durability: "strict" });
    act(tx.objectStore(STORE));
    tx.oncomplete = () => { tell(); resolve(); };
    tx.onabort = tx.onerror = () => reject(tx.error);
  });
}

// keep resolves when the item {id, bag, entry, words} is on the phone's disk.
export const keep = (item) => change((s) => s.put({ ...item, kept: Date.now() }));
export const drop = (id) => change((s) => s.delete(id));

// all is everything kept, oldest first.
export async function all() {
  const db = await open();
  return new Promise((resolve, reject) => {
    const ask = db.transaction(STORE).objectStore(STORE).getAll();
    ask.onsuccess = () => resolve(ask.result.sort((a, b) => a.kept - b.kept));
    ask.onerror = () => reject(ask.error);
  });
}

const listeners = new Set();
export const onChange = (f) => listeners.add(f);
function tell() { for (const f of listeners) f(); }

let sending = null;

// flush sends what waits, one after the other. It resolves to true when nothing
// waits any more (parked entries aside).
export function flush() {
  sending ??= run().finally(() => { sending = null; });
  return sending;
}

async function run() {
  for (const item of await all()) {
    if (item.refused) continue;
    const outcome = await send(item);
    if (outcome === "later") return false;
    if (outcome.entry?.id === item.id) await drop(item.id);
    else await change((s) => s.put({ ...item, refused: outcome.message }));
  }
  return true;
}

// send gives the farm's answer, or "later" when there was none to rely on.
async function send(item) {
  try {
    const answer = await fetch(`/api/v1/bags/${item.bag}/entries`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ ...item.entry, sent_at: new Date().toISOString() }),
      signal: AbortSignal.timeout ? AbortSignal.timeout(4000) : undefined,
    });
    if (answer.status >= 500 || answer.status === 429 || answer.status === 401) return "later";
    const body = await answer.json();
    if (answer.ok) return body;
    const fields = Object.values(body.error?.fields ?? {});
    return { message: [body.error?.message, ...fields].filter(Boolean).join(": ") || "refused" };
  } catch {
    return "later";
  }
}
