// "All" and "none" for a list of ticks.
export function enhance(box) {
  const ticks = () => box.querySelectorAll("input[type=checkbox]:not([disabled])");
  const bar = Object.assign(document.createElement("div"), { className: "buttons" });
  for (const [word, on] of [["Tick all", true], ["Tick none", false]]) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "button", textContent: word });
    button.addEventListener("click", () => {
      ticks().forEach((t) => { t.checked = on; });
      box.dispatchEvent(new Event("change", { bubbles: true }));
    });
    bar.append(button);
  }
  box.prepend(bar);
}
