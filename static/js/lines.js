// Runs before all else of a page, so that a hand-held scanner need not wait for
// one: it types like a very fast person, characters a few milliseconds apart,
// then Enter. Whatever has the focus, its lines are taken here, each with an id
// and its time, and stay in this tab's memory until the page has them safe: over
// a reload, too. Half a line goes over to the page that follows. What the live
// camera reads goes the same way. The on-screen keyboard stays down.
window.lines = (() => {
  const FAST = 60; // milliseconds between two keys of a scanner; people are slower
  const ALONE = 10000; // the same where no text is being typed: there the keys mean nothing else
  const WHOLE = 8; // characters of a code
  const FRESH = { "/scan": 10000, "/bench": 120000, "/sweep": 120000 }; // milliseconds a line waits for its page
  const PATIENCE = 5000; // milliseconds for the page's scripts, once the page has come
  const TEXT = "textarea, select, input:not([type=checkbox], [type=radio], [type=file], [type=hidden])";
  const KEPT = "bagmark-lines";
  const HALF = "bagmark-half";
  const place = /^\/(bench|sweep)/.exec(location.pathname)?.[0] ?? "/scan";
  const taken = new Set();
  let kept = read(KEPT, []).filter((line) => Date.now() - line.at < FRESH[line.place]);
  let taker; // of the page
  let late = false; // the page's scripts should be there by now
  const half = read(HALF, { typed: "", at: 0 });
  let typed = Date.now() - half.at < ALONE ? half.typed : "";
  let last = half.at - performance.timeOrigin; // by the clock of events
  save(HALF);

  function read(key, otherwise) {
    try { return JSON.parse(sessionStorage.getItem(key)) ?? otherwise; } catch { return otherwise; }
  }
  function save(key, value) {
    try { if (value) sessionStorage.setItem(key, JSON.stringify(value)); else sessionStorage.removeItem(key); } catch { /* this tab keeps nothing: its page does */ }
  }
  // id is a random UUID (version 4, RFC 9562). crypto.randomUUID is missing on
  // plain HTTP, getRandomValues is not.
  function id() {
    const b = crypto.getRandomValues(new Uint8Array(16));
    b[6] = (b[6] & 0x0f) | 0x40;
    b[8] = (b[8] & 0x3f) | 0x80;
    return Array.from(b, (x, i) => ([4, 6, 8, 10].includes(i) ? "-" : "") + x.toString(16).padStart(2, "0")).join("");
  }
  const form = () => document.querySelector("form[data-ui~=keys]");
  const fieldOf = (of) => of?.querySelector("input[name=code]");

  function put(text) {
    kept.push({ id: id(), text, at: Date.now(), place });
    save(KEPT, kept);
    hand();
  }
  function hand() {
    if (!taker) { if (late) post(); return; }
    for (const line of kept.filter((l) => l.place === place && !taken.has(l.id))) {
      taken.add(line.id);
      taker(line);
    }
  }
  function settle(of) {
    kept = kept.filter((line) => line.id !== of);
    save(KEPT, kept);
  }
  // post sends the form as a page without scripts does.
  function post() {
    const line = kept.find((l) => l.place === place);
    if (!line || !form()) return;
    settle(line.id);
    fieldOf(form()).value = line.text;
    form().submit();
  }

  addEventListener("keydown", (event) => {
    const mine = form();
    if (event.ctrlKey || event.metaKey || event.altKey || !mine && document.readyState !== "loading") return;
    const field = fieldOf(mine);
    const inText = event.target.matches?.(TEXT) || event.target.isContentEditable;
    if (event.timeStamp - last > (inText ? FAST : ALONE)) typed = "";
    last = event.timeStamp;
    if (event.key.length === 1) {
      typed += event.key;
      if (!inText && event.key !== " ") event.preventDefault(); // some browsers search the page at "/"
      return;
    }
    if (/^(Tab|Escape|Arrow)/.test(event.key)) typed = "";
    if (event.key !== "Enter" || !typed && event.target !== field) return;
    const line = typed;
    typed = "";
    if (event.target === field) {
      const text = line.endsWith(field.value) ? line : field.value; // its first half may have been typed on the page before
      if (!text.trim()) return;
      field.value = "";
      whole(event, text);
    } else if (line.length >= WHOLE) {
      if (inText && event.target.value?.endsWith(line)) event.target.value = event.target.value.slice(0, -line.length);
      whole(event, line);
    } else if (!inText) { // half a scan presses no button
      stop(event);
      document.dispatchEvent(new Event("halfline"));
    }
  }, true);
  const stop = (event) => { event.preventDefault(); event.stopPropagation(); };
  const whole = (event, text) => { stop(event); put(text); };

  addEventListener("pagehide", () => { if (typed) save(HALF, { typed, at: performance.timeOrigin + last }); });
  addEventListener("pageshow", ({ persisted }) => { if (persisted) { kept = read(KEPT, []); hand(); } });
  document.addEventListener("DOMContentLoaded", () => { // what was scanned for a page that takes nothing is not kept for the next
    if (form()) return;
    kept = kept.filter((line) => line.place !== place);
    save(KEPT, kept);
  });
  addEventListener("load", () => setTimeout(() => { late = true; hand(); }, PATIENCE));
  return { id, put, settle, take(f) { taker = f; hand(); } };
})();
