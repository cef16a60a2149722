// A hand-held scanner types like a very fast person: characters a few
// milliseconds apart, then Enter. Whatever has the focus, what it types goes to
// this form's field and the form is sent. The on-screen keyboard stays down.
const FAST = 60; // milliseconds between two keys; people are slower

export function enhance(form) {
  const field = form.querySelector("input[name=code]");
  let typed = "";
  let last = 0;
  addEventListener("keydown", (event) => {
    const now = performance.now();
    if (now - last > FAST) typed = "";
    last = now;
    const target = event.target;
    if (target === field || target.isContentEditable || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key.length === 1) { typed += event.key; return; }
    if (event.key !== "Enter" || typed.length < 8) return;
    event.preventDefault();
    event.stopPropagation();
    if (target.matches?.("input, textarea")) target.value = target.value.slice(0, Math.max(0, target.value.length - typed.length));
    field.value = typed;
    typed = "";
    form.requestSubmit();
  }, true);
  if (form.dataset.focus === "fine" && matchMedia("(pointer: fine)").matches) field.focus();
}
