// Every element that asks for an enhancer by data-ui="name" gets it, once. An
// enhancer that fails leaves its element as the server sent it. While it is at
// work the page is not marked as enhanced.
const done = new WeakSet();

export async function enhanceAll(root) {
  const page = document.documentElement.dataset;
  delete page.enhanced;
  for (const el of root.querySelectorAll("[data-ui]")) {
    if (done.has(el)) continue;
    done.add(el);
    for (const name of el.dataset.ui.split(" ")) {
      const { enhance } = await import(`../ui/${name}.js`);
      enhance(el);
    }
  }
  page.enhanced = "";
}
