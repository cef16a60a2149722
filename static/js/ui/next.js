// The next bag by its code. Where the farm does not answer, the page is not left:
// the phone opens what it was told of the bag, or offers plain answers for it.
const PATIENCE = 2000; // milliseconds until the farm counts as out of reach
const SOON = 1500; // milliseconds until what will be needed then is fetched

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

export function enhance(form) {
  const main = form.closest("main[data-ui~=tap]");
  if (!main) return; // who may not log has nothing to keep
  setTimeout(() => away().catch(() => {}), SOON);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const field = form.querySelector("input[name=code]");
    const text = field.value;
    if (await answers()) { form.submit(); return; }
    const { open } = await away();
    const { codeOf } = await import("../lib/code.js");
    field.value = "";
    if (navigator.serviceWorker?.controller && codeOf(text)) location.assign(`/B/${codeOf(text)}`);
    else open(main, text);
  });
}
