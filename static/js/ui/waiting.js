// What waits to be sent, always in sight, and the sending of it: after each
// tap, when the page comes back, and with growing pauses while the farm does
// not answer.
import { all, drop, flush, onChange } from "../lib/outbox.js";
import { age } from "../lib/entry.js";

// list shows what the farm refused, each with its reason, until it is dropped.
function list(parked) {
  let box = document.getElementById("parked");
  if (parked.length === 0) { box?.remove(); return; }
  if (!box) {
    box = make("section", { id: "parked", className: "note bad stack" });
    document.querySelector("main").prepend(box);
  }
  box.replaceChildren(make("h2", { textContent: "Not logged: the farm refused" }), ...parked.map((item) => {
    const line = make("p", { textContent: `${item.words} (${item.refused}) ` });
    const drops = make("button", { type: "button", className: "button", textContent: "Drop it" });
    drops.addEventListener("click", () => drop(item.id));
    line.append(make("a", { className: "button", href: `/B/${item.bag}`, textContent: "Open the bag" }), " ", drops);
    return line;
  }));
}

const make = (name, fields) => Object.assign(document.createElement(name), fields);

export function enhance(place) {
  const show = async () => {
    const items = await all();
    const parked = items.filter((i) => i.refused).length;
    const waits = items.length - parked;
    const words = [];
    if (waits > 0) words.push(`${waits} waiting, ${age(Date.now() - items[0].kept)}`);
    if (parked > 0) words.push(`${parked} refused`);
    list(items.filter((i) => i.refused));
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
