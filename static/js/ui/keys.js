// A hand-held scanner types like a very fast person: characters a few
// milliseconds apart, then Enter. Whatever has the focus, what it types goes to
// this form's field and the form is sent. The on-screen keyboard stays down.
const FAST = 60; // milliseconds between two keys; people are slower
const ALONE = 400; // the same where no field has the focus: there the keys mean nothing else
let current; // the page's form; the last one wins
let typed = "";
let last = 0;

export function enhance(form) {
  if (!current) addEventListener("keydown", listen, true);
  current = form;
  if (form.dataset.focus === "fine" && matchMedia("(pointer: fine)").matches) fieldOf(form).focus({ preventScroll: true });
}

const fieldOf = (form) => form.querySelector("input[name=code]");

function listen(event) {
  const now = performance.now();
  const inField = event.target.matches?.("input, textarea, select") || event.target.isContentEditable;
  if (now - last > (inField ? FAST : ALONE)) typed = "";
  last = now;
  const field = fieldOf(current);
  if (event.target === field || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key.length === 1) { typed += event.key; return; }
  if (event.key !== "Enter" || typed.length < 8) return;
  event.preventDefault();
  event.stopPropagation();
  if (inField && event.target.value?.endsWith(typed)) event.target.value = event.target.value.slice(0, -typed.length);
  field.value = typed;
  typed = "";
  current.requestSubmit();
}
