// What was tapped and is not yet at the farm, kept on this phone. A tap counts
// as kept only once the browser says that its transaction is complete. An item
// is {id, bag, entry, words} for an entry of the API, {id, path, fields, words}
// for a form, with `picture` where a photo goes first. It leaves the outbox only
// on an answer that repeats its id.
const STORE = "out";
export const uuid = () => window.lines.id();
export const LIFE = uuid(); // of this page: performance.now() means something within it alone
const page = document.documentElement.dataset;
// The farm's clock less the phone's as this page came; a page kept on the phone cannot tell.
const skew = page.now && !page.kept ? Date.parse(page.now) - Date.now() : undefined;
let opening;

// person is who is signed in: what somebody tapped is sent in nobody else's name.
export const person = () => page.person ?? "";

function open() {
  opening ??= new Promise((resolve, reject) => {
    const ask = indexedDB.open("bagmark-out", 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore(STORE, { keyPath: "seq", autoIncrement: true }).createIndex("id", "id", { unique: true });
    ask.onsuccess = () => { ask.result.onclose = () => { opening = undefined; }; resolve(ask.result); };
    ask.onerror = () => { opening = undefined; reject(ask.error); };
  });
  return opening;
}

// change resolves to what act gave, once all of it is on the phone's disk.
async function change(act) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const tx = db.transaction(STORE, "readwrite", { durability: "strict" });
    let given;
    act(tx.objectStore(STORE), (value) => { given = value; });
    tx.oncomplete = () => { resolve(given); changed(); };
    tx.onabort = () => reject(tx.error);
  });
}

// stamped is an item with the clocks of this moment.
export const stamped = (item) => ({ ...item, wall: Date.now(), mono: performance.now(), life: LIFE, zone: new Date().getTimezoneOffset(), skew, by: person() });
export const keep = (item) => change((s) => s.add(item));
export const drop = (seq) => change((s) => s.delete(seq));

// forget drops by id.
export const forget = (id) => change((s) => {
  s.index("id").getKey(id).onsuccess = ({ target }) => { if (target.result !== undefined) s.delete(target.result); };
});

// alter changes an item that is still here; it resolves to whether it was.
export const alter = (seq, fields) => change((s, give) => {
  s.get(seq).onsuccess = ({ target }) => {
    give(!!target.result);
    if (target.result) s.put({ ...target.result, ...fields });
  };
});

// takeBack removes an entry that was never sent; one that may have arrived is
// followed by its void. It resolves to whether nothing is left to be sent.
export const takeBack = (id, undo) => change((s, give) => {
  s.index("id").get(id).onsuccess = ({ target }) => {
    const item = target.result;
    give(!!item && !item.tried);
    if (item && !item.tried) s.delete(item.seq); else s.add(undo);
  };
});

// all is everything kept, oldest first.
export async function all() {
  const db = await open();
  return new Promise((resolve, reject) => {
    const ask = db.transaction(STORE).objectStore(STORE).getAll();
    ask.onsuccess = () => resolve(ask.result);
    ask.onerror = () => reject(ask.error);
  });
}

const listeners = new Set();
export const onChange = (f) => listeners.add(f);
export const changed = () => { for (const f of listeners) f(); };
