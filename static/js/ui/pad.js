// Large keys for a weight, so that the phone's own keyboard stays down: a wet
// thumb hits them, and the bag's name stays in sight.
const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "←"];

export function enhance(form) {
  const fields = [...form.querySelectorAll("input[name=gross], input[name=pounds]")];
  let field = fields.find((f) => f.name === "gross"); // the keys type into the one that was chosen last
  for (const f of fields) {
    if (matchMedia("(pointer: coarse)").matches) f.inputMode = "none";
    f.addEventListener("focus", () => { field = f; });
  }
  const pad = Object.assign(document.createElement("div"), { className: "pad" });
  for (const key of KEYS) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "button lead", textContent: key });
    if (key === "←") button.setAttribute("aria-label", "take the last digit off");
    button.addEventListener("click", () => {
      field.value = key === "←" ? field.value.slice(0, -1) : field.value + key;
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
    pad.append(button);
  }
  form.querySelector(".weight").after(pad);
}
