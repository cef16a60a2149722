// Every element that asks for an enhancer by data-ui="name" gets it; a page
// without scripts works as it stands. An enhancer that fails leaves its element
// as the server sent it.
const wanted = new Map();
for (const el of document.querySelectorAll("[data-ui]")) {
  for (const name of el.dataset.ui.split(" ")) {
    if (!wanted.has(name)) wanted.set(name, []);
    wanted.get(name).push(el);
  }
}
for (const [name, elements] of wanted) {
  const { enhance } = await import(`./ui/${name}.js`);
  elements.forEach(enhance);
}
