// While the farm is out of reach: plain answers for a bag of which this phone
// has nothing but the code. They go through the outbox like any other tap.
import { codeOf, spaced } from "./code.js";

const make = (name, fields, ...within) => {
  const el = Object.assign(document.createElement(name), fields);
  el.append(...within);
  return el;
};

// From the top, each in its usual place; the second is left to those who see the bag's own page.
const ANSWERS = [
  ["Mould or wrong", "keep it closed; what and where can follow", " mould", ["unmarked-box", "mould"], { kind: "contaminated", what: "unsure" }],
  null,
  ["Grown over", "all of its wall", "", ["grown"], { kind: "colonised", pct: "100" }],
  ["Clean", "in the hand, nothing wrong", " largest", ["clean"], { kind: "look", seen: "in_hand" }],
];

// open puts them in the place of the page's bag.
export function open(main, text) {
  document.getElementById("away")?.remove();
  const screen = main.querySelector(".bag-screen");
  if (screen) screen.hidden = true;
  const code = codeOf(text);
  const panel = make("section", { id: "away", className: "bag-screen" });
  panel.setAttribute("role", "status");
  if (!code) panel.append(make("p", { className: "note bad lead", textContent: "The farm does not answer, and this is not the code of a label. Look at it again: eight characters." }));
  else panel.append(head(code), make("div", { className: "tray" }, ...ANSWERS.map((answer) => tile(code, answer))));
  main.prepend(panel);
  scrollTo(0, 0);
}

const head = (code) => make("section", { className: "tag" },
  make("h1", { className: "code", textContent: spaced(code) }),
  make("p", { className: "lead", textContent: "The farm does not answer." }),
  make("p", { textContent: "This phone does not have the bag's page. Look whether it is the right bag; what you tap is kept here and sent later." }));

// drawing is made of the shapes that bag and scan pages hold.
function drawing(layers) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 44 44");
  svg.setAttribute("aria-hidden", "true");
  for (const layer of layers) {
    const use = document.createElementNS(svg.namespaceURI, "use");
    use.setAttribute("href", `#s-${layer}`);
    svg.append(use);
  }
  return svg;
}

function tile(code, answer) {
  if (!answer) return make("div", { className: "tile none" });
  const [word, logs, more, layers, fields] = answer;
  const form = make("form", { method: "post", action: `/B/${code}/entries` },
    ...Object.entries(fields).map(([name, value]) => make("input", { type: "hidden", name, value })),
    make("button", { className: `tile${more}` }, drawing(layers), make("span", { className: "word", textContent: word }), make("span", { className: "logs", textContent: logs })));
  form.dataset.of = spaced(code);
  return form;
}
