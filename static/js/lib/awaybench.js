// What bench and sweep show of an act that waits for the farm: that it is kept,
// and what the page can tell by itself, by the names and cards it came with.
import { codeOf, spaced } from "./code.js";
import { clock } from "./entry.js";
import * as signal from "./signal.js";
import { intoView } from "./view.js";

// What a sweep has come to while the farm was away, since the page that it showed
// last: where each bag was seen, and the place whose label was scanned last.
const seen = new Map();
let turned, page;

export function shown(box, fields, kept) {
  if (!kept) return say(box, "NOT SAVED", "This phone keeps nothing and the farm does not answer. Do it again.", signal.refused);
  const code = fields.get("act") === "scan" ? codeOf(fields.get("code")) : "";
  if (fields.get("act") === "scan" && !code) return say(box, "Not a label", "Look at it again: eight characters. It is kept as it was read and will be refused.", signal.refused);
  if (box.dataset.away === "sweep") return sweep(box, code);
  if (box.dataset.away === "crop") return say(box, code ? spaced(code) : "kept", "", signal.logged);
  if (!known.has(box)) learn(box);
  const [does, key, printed] = JSON.parse(box.dataset.cards || "{}")[code] ?? (fields.get("act") === "switch" ? ["switch", fields.get("key"), printedOf(box, fields)] : [fields.get("act")]);
  if (key === "spawn_jar") spawnFrom(box, printed);
  else if (key) flip(box, key, printed);
  const off = document.body.classList.contains("bench-off");
  say(box, key || does !== "scan" ? does : spaced(code), onTheScreen(), off ? signal.switchOff : signal.logged);
}

function sweep(box, code) {
  const shows = box.querySelector("#scans")?.elements.id?.value; // each page of the farm's has another
  if (shows !== page) { page = shows; seen.clear(); turned = undefined; }
  const names = JSON.parse(box.dataset.names || "{}");
  if (!code) return say(box, "kept", "", signal.logged);
  const [name, before, kind] = names[code] ?? [spaced(code)];
  if (kind) return turn(box, name);
  const to = turned ?? box.dataset.to;
  if (to === "") return say(box, name, "No shelf yet: scan its label, then this bag again.", signal.refused);
  if (before || seen.has(code) && seen.get(code) === to) return say(box, name, to ? "Already here." : "Seen already; it counts once.", signal.refused);
  seen.set(code, to);
  for (const count of box.querySelectorAll(names[code] ? "[data-count], [data-moved]" : "[data-moved]")) count.textContent = count.textContent.replace(/^\d+/, (n) => Number(n) + 1);
  say(box, name, names[code] || to || !box.querySelector("[data-count]") ? "" : "It was not expected here.", signal.logged);
}

function turn(box, name) {
  turned = name;
  const head = box.querySelector("h1");
  if ("to" in box.dataset) head.textContent = `Now: ${name}`;
  const count = box.querySelector("[data-moved]");
  if (count) count.textContent = "0 moved";
  say(box, `Now: ${name}`, "The next bags go there.", signal.turned);
}

// printedOf is what a label says of a switch's value, known by its card.
function printedOf(box, fields) {
  const cards = Object.values(JSON.parse(box.dataset.cards || "{}"));
  return cards.find(([does, key]) => key === fields.get("key") && does.endsWith(` ${fields.get("value")}`))?.[2] ?? "";
}

// away are the switches that are off, with their words: those of the page as it
// came, and what was done since.
const away = new Map();
const known = new WeakSet();

function learn(box) {
  known.add(box);
  away.clear();
  for (const button of box.querySelectorAll(".switches button[aria-pressed=true]")) {
    const fields = new FormData(button.form, button);
    if (fields.get("value")) away.set(fields.get("key"), printedOf(box, fields));
  }
}

function spawnFrom(box, name) {
  const line = box.querySelector("[data-spawn]");
  if (!line) return;
  line.querySelector("b").textContent = name;
  line.hidden = false;
}

function flip(box, key, printed) {
  if (printed) away.set(key, printed); else away.delete(key);
  document.body.classList.toggle("bench-off", away.size > 0);
  let says = box.querySelector(".says");
  if (!says) {
    says = Object.assign(document.createElement("p"), { className: "says" });
    box.prepend(says);
  }
  says.textContent = [...away.values()].join(" + ");
  says.hidden = away.size === 0;
}

const onTheScreen = () => [...away.values()].join(" + ");

function say(box, name, more, sound) {
  let note = box.querySelector("[data-waits]");
  if (!note) {
    note = Object.assign(document.createElement("section"), { className: "note stack" });
    note.dataset.waits = "";
    note.setAttribute("role", "status");
    box.prepend(note);
  }
  const line = (className, textContent) => Object.assign(document.createElement("p"), { className, textContent });
  note.replaceChildren(line("marked-last", name), line("lead", `${more ? `${more} · ` : ""}${clock(new Date())}, kept on this phone: the farm does not answer.`));
  note.classList.toggle("bad", sound === signal.refused);
  intoView(box);
  sound();
}
