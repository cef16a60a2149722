// A button that acts on what is ticked says how many that is: "7 of 9 to fruiting".
// It counts the ticks whose value begins with what its data-counts says, and
// rests while there are none.
export function enhance(form) {
  const words = [...form.querySelectorAll("button[data-counts]")].map((button) => [button, button.textContent]);
  const count = () => {
    for (const [button, all] of words) {
      const ticks = [...form.querySelectorAll("input[name=bag]")].filter((t) => t.value.startsWith(button.dataset.counts));
      const on = ticks.filter((t) => t.checked).length;
      button.textContent = on === ticks.length ? all : all.replace(/((all|the other)\s)?\d+/i, `${on} of ${ticks.length}`);
      button.disabled = ticks.length > 0 && on === 0;
    }
  };
  form.addEventListener("change", count);
  addEventListener("pageshow", count); // a browser that goes back brings the ticks along
  count();
}
