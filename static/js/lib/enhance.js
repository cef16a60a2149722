// Every element that asks for an enhancer by data-ui="name" gets it. An
// enhancer that fails leaves its element as the server sent it.
export async function enhanceAll(root) {
  for (const el of root.querySelectorAll("[data-ui]")) {
    for (const name of el.dataset.ui.split(" ")) {
      const { enhance } = await import(`../ui/${name}.js`);
      enhance(el);
    }
  }
}
