// A scan at the scale carries what stands in the fields of the bag before it, so
// that a weight nobody has logged is kept with its bag.
export function enhance(form) {
  form.addEventListener("formdata", ({ formData }) => {
    const before = document.querySelector("form[data-ui~=pad]");
    for (const name of ["bag", "pounds", "gross", "tare", "flush", "unit"]) if (before?.elements[name]) formData.set(name, before.elements[name].value);
  });
}
