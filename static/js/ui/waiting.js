// What waits to be sent, always in sight with its age, and the sending of it:
// after each tap, when the page comes back, and with growing pauses while the
// farm does not answer.
import { all, onChange, person } from "../lib/outbox.js";
import { answered, flush, state, waiting } from "../lib/send.js";
import { age } from "../lib/entry.js";

const DAY = 24 * 3600 * 1000;

export function enhance(place) {
  let list;
  let tries = 0;
  const show = async () => {
    const items = await all();
    const waits = waiting(items);
    const no = items.filter((i) => i.refused || i.by !== person()); // also what this page shows itself
    const parked = items.filter((i) => i.refused && !answered.has(i.id) || i.by !== person());
    const oldest = waits.length > 0 ? Date.now() - Math.min(...waits.map((i) => i.wall)) : 0;
    const words = [];
    if (waits.length > 0) words.push(`${waits.length} waiting, ${state.signedOut ? "sign in" : age(oldest, "0 min")}`);
    if (no.length > 0) words.push(`${no.length} ${no.every((i) => i.refused) ? "refused" : "to look at"}`);
    if (oldest > DAY) words.push("find the Wi-Fi");
    place.textContent = words.join(" · ") || "all sent";
    if (parked.length === 0 && oldest <= DAY && !document.getElementById("parked")) return;
    try {
      list ??= (await import(`../lib/parked.js?${tries++}`)).list; // another address each time: a browser may remember that one failed
      list(parked, oldest > DAY ? waits.length : 0);
    } catch { /* out of reach: the words above have to do */ }
  };
  let pause = 1000;
  let timer;
  const again = async () => {
    clearTimeout(timer);
    const done = await flush();
    await show();
    if (done) { pause = 1000; return; }
    timer = setTimeout(again, pause);
    pause = Math.min(pause * 2, 30000);
  };
  const soon = () => again().catch(() => { place.textContent = "this phone keeps nothing"; });
  onChange(() => { show(); clearTimeout(timer); timer = setTimeout(soon, pause); });
  addEventListener("online", soon);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) soon(); });
  setInterval(show, 30000);
  show().then(soon, soon);
  if (navigator.serviceWorker) import("../lib/kept.js").then(({ start }) => start());
}
