// Bench and sweep stay on one page: a form marked data-stay is sent and the
// answer takes the page's place, so that sound keeps working and the next scan
// needs no tap. When the farm does not answer, nothing changes and the page
// says so: what was scanned was not marked.
import { enhanceAll } from "../lib/enhance.js";
import * as signal from "../lib/signal.js";

const sounds = { logged: signal.logged, refused: signal.refused, off: signal.switchOff };
let timer;

export function enhance(box) {
  const main = box.closest("main");
  box.addEventListener("submit", (event) => {
    const form = event.target;
    if (!("stay" in form.dataset)) return;
    event.preventDefault();
    signal.wake();
    const fields = new URLSearchParams(new FormData(form, event.submitter));
    load(main, form.action, { method: "POST", body: fields });
  });
  clearTimeout(timer);
  const seconds = Number(box.dataset.refreshIn || 0);
  if (seconds > 0) {
    timer = setTimeout(() => load(main, location.pathname, {}).then(signal.switchOff), seconds * 1000);
  }
}

async function load(main, address, options) {
  let page;
  try {
    const answer = await fetch(address, options);
    if (new URL(answer.url).pathname !== location.pathname) { location.assign(answer.url); return; } // signed out meanwhile
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    signal.refused();
    lost(main);
    return;
  }
  const fresh = page.querySelector("main");
  const box = fresh.querySelector("[data-ui~=stay]");
  document.body.className = page.body.className;
  main.replaceChildren(...fresh.childNodes);
  await enhanceAll(main);
  sounds[box?.dataset.sound]?.();
}

function lost(main) {
  let note = main.querySelector("[data-lost]");
  if (!note) {
    note = document.createElement("p");
    note.dataset.lost = "";
    note.className = "note bad lead";
    note.setAttribute("role", "alert");
    main.prepend(note);
  }
  note.textContent = "The farm did not answer: this was not saved. Do it again.";
}
