// What the farm refused, what somebody else tapped, and what has waited for more
// than a day: in sight, each line to be mended, sent again or let go.
import { alter, drop, keep, person, uuid } from "./outbox.js";
import { clock } from "./entry.js";

const make = (name, fields) => Object.assign(document.createElement(name), fields);
const FIELDS = { bag: "Code of the bag", pct: "Per cent grown over", extent_pct: "Per cent of the wall", grams: "Grams", flush: "Flush", place: "Place", text: "Note", because: "Because", on: "Day", to: "To whom or where" };

export function list(parked, old) {
  let box = document.getElementById("parked");
  if (box?.querySelector("form, [data-sure]") && parked.length >= box.querySelectorAll("div").length) return; // somebody is at it
  if (parked.length === 0 && old === 0) { box?.remove(); return; }
  const of = JSON.stringify([old, ...parked.map((i) => [i.seq, i.refused, i.by])]);
  if (box?.dataset.of === of) return; // nothing is drawn anew under a finger
  if (!box) {
    box = make("section", { id: "parked", className: "note bad stack" });
    document.querySelector("main").prepend(box);
  }
  box.dataset.of = of;
  const lines = parked.map(line);
  if (old > 0) lines.unshift(make("p", { textContent: `${old} tapped more than a day ago and not sent yet. Bring this phone to the farm's Wi-Fi: a browser may throw away what it keeps after some days.` }));
  box.replaceChildren(make("h2", { textContent: parked.length > 0 ? "Not logged yet" : "Waiting for a day" }), ...lines);
}

function line(item) {
  const at = new Date(item.wall);
  const other = item.by !== person();
  const why = item.refused ?? `tapped by ${item.by.split(" ").slice(1).join(" ") || "somebody else"}`;
  const box = make("div", { className: "stack" });
  box.append(make("p", { textContent: `${item.words}, ${at.toLocaleDateString("en-GB")} ${clock(at)}: ${why}.` }));
  const buttons = make("p", { className: "buttons" });
  const add = (textContent, act) => {
    const button = make("button", { type: "button", className: "button", textContent });
    button.addEventListener("click", act);
    buttons.append(button);
  };
  add(other ? "Send it in my name" : "Send it again", () => alter(item.seq, { refused: undefined, by: person() }));
  if (item.entry) add("Mend it", () => box.append(mending(item)));
  if (item.bag) buttons.append(make("a", { className: "button", href: `/B/${item.bag}`, textContent: "Open the bag" }));
  add("Let it go", ({ target }) => {
    if (target.dataset.sure === undefined) { target.dataset.sure = ""; target.textContent = "Sure? Then it is gone"; } else drop(item.seq);
  });
  box.append(buttons);
  return box;
}

// mending is a form with what can be put right. What is sent then is another
// entry with an id of its own, seen at the time that the form says.
function mending(item) {
  const form = make("form", { className: "form part" });
  const values = { bag: item.bag, ...item.entry };
  for (const [name, label] of Object.entries(FIELDS)) {
    if (values[name] === undefined) continue;
    form.append(field(label, { name, value: values[name] }));
  }
  const local = new Date(item.wall - new Date(item.wall).getTimezoneOffset() * 60000).toISOString().slice(0, 19);
  form.append(field("Seen at, by this phone's clock", { name: "seen-at", type: "datetime-local", step: 1, value: local }), make("button", { className: "button main", textContent: "Send it so" }));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const fields = new FormData(form);
    const id = uuid();
    const entry = { ...item.entry, id };
    for (const name of Object.keys(FIELDS)) {
      if (name === "bag" || !fields.has(name)) continue;
      const text = fields.get(name).trim();
      entry[name] = typeof item.entry[name] === "number" && text !== "" ? Number(text.replace(",", ".")) : text;
      if (text === "") delete entry[name];
    }
    const { seq, refused, tried, ...rest } = item;
    const wall = fields.get("seen-at") === local ? item.wall : Date.parse(fields.get("seen-at"));
    form.remove();
    await keep({ ...rest, id, entry, bag: fields.get("bag").toUpperCase().replace(/[^0-9A-Z]/g, ""), wall, mono: item.mono + wall - item.wall });
    await drop(seq);
  });
  return form;
}

function field(label, attributes) {
  const box = make("label", { textContent: label });
  box.append(make("input", attributes));
  return box;
}
