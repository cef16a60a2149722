// What waits to be sent, always in sight, and the sending of it: after each
// tap, when the page comes back, and with growing pauses while the farm does
// not answer.
import { all, flush, onChange } from "../lib/outbox.js";
import { age } from "../lib/entry.js";

export function enhance(place) {
  const show = async () => {
    const items = await all();
    const parked = items.filter((i) => i.refused).length;
    const waits = items.length - parked;
    const words = [];
    if (waits > 0) words.push(`${waits} waiting, ${age(Date.now() - items[0].kept)}`);
    if (parked > 0) words.push(`${parked} refused`);
    place.textContent = words.join(" · ") || "all sent";
  };
  let pause = 1000;
  let timer;
  const again = async () => {
    clearTimeout(timer);
    let done = false;
    try { done = await flush(); } catch { return; }
    await show();
    if (done) { pause = 1000; return; }
    timer = setTimeout(again, pause);
    pause = Math.min(pause * 2, 30000);
  };
  onChange(() => { show(); clearTimeout(timer); timer = setTimeout(again, pause); });
  addEventListener("online", again);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) again(); });
  setInterval(show, 30000);
  show().then(again, () => { place.textContent = ""; }); // a browser that keeps nothing posts forms
}
