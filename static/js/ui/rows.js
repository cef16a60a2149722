// "One more species": shows the next of the rows that the page already has, to
// begin with those that are filled in or, where the page says so, its first few.
// Without this script all of them stand there.
export function enhance(box) {
  const rows = [...box.querySelectorAll("[data-row]")];
  const used = (row) => [...row.querySelectorAll("input, select")].some((f) => f.value !== "" && f.type !== "hidden" && f.type !== "checkbox");
  let shown = Number(box.dataset.shown) || Math.max(1, rows.findLastIndex(used) + 1);
  const button = Object.assign(document.createElement("button"), { type: "button", className: "button wide", textContent: box.dataset.more });
  const show = () => {
    rows.forEach((row, i) => { row.hidden = i >= shown; });
    button.hidden = shown >= rows.length;
  };
  button.addEventListener("click", () => {
    shown++;
    show();
    rows[shown - 1].querySelector("input, select").focus();
  });
  box.append(button);
  show();
}
