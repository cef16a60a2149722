// A form whose one field takes what a hand-held scanner types or the camera
// reads (see lines.js). What a person has typed into the field meanwhile stays.
import { refused } from "../lib/signal.js";

let current; // the page's form; the last one wins

export function enhance(form) {
  if (!current) document.addEventListener("halfline", half);
  current = form;
  const field = fieldOf(form);
  window.lines.take(({ id, text, at }) => {
    const own = field.value;
    Object.assign(form.dataset, { line: id, at });
    field.value = text;
    form.requestSubmit();
    field.value = own;
  });
  if (form.dataset.focus === "fine" && matchMedia("(pointer: fine)").matches) field.focus({ preventScroll: true });
}

const fieldOf = (form) => form.querySelector("input[name=code]");

// half says that a scan broke off: its code never came.
function half() {
  refused();
  const says = current.parentNode.querySelector("[data-half]") ?? Object.assign(document.createElement("p"), { className: "note bad lead", textContent: "Only half a code came from the scanner. Scan it again." });
  says.dataset.half = "";
  says.setAttribute("role", "alert");
  current.before(says);
  says.scrollIntoView({ block: "nearest", behavior: "instant" });
}
