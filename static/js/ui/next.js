// The next bag by its code. Where the farm does not answer, the page is not left:
// the phone opens what it was told of the bag, or offers plain answers for it.
const PATIENCE = 2000; // milliseconds until the farm counts as out of reach
const SOON = 1500; // milliseconds until what will be needed then is fetched
let asked = 0; // of several codes the last one is opened

const away = () => import("../lib/away.js");

async function answers() {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE);
  try {
    return (await fetch("/healthz", { signal: stop.signal })).ok;
  } catch {
    return false;
  } finally {
    clearTimeout(timer);
  }
}

// kept tells whether this phone's worker can show a bag's page, or at least plain
// answers in its place: it may not have fetched anything yet.
const kept = async (page) => navigator.serviceWorker?.controller && (await caches.match(page) ?? await caches.match("/scan"));

export function enhance(form) {
  const main = form.closest("main[data-ui~=tap]");
  if (main) setTimeout(() => away().catch(() => {}), SOON); // who may not log has nothing to keep
  form.addEventListener("submit", async (event) => {
    window.lines.settle(form.dataset.line);
    if (!main) return;
    event.preventDefault();
    const mine = ++asked;
    const field = form.querySelector("input[name=code]");
    const text = field.value;
    const here = await answers();
    if (mine !== asked) return;
    if (here) { location.assign(`${form.action}?${new URLSearchParams({ code: text })}`); return; }
    const { open } = await away();
    const { codeOf } = await import("../lib/code.js");
    if (field.value === text) field.value = "";
    const page = codeOf(text) && `/B/${codeOf(text)}`;
    if (page && await kept(page)) location.assign(page);
    else open(main, text);
  });
}
