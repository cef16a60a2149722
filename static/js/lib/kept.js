// Where the browser lets a page be kept (HTTPS, or this very machine): has the
// farm's worker keep pages for when the farm is out of reach, and says of such a
// page how old it is.
import { age, clock } from "./entry.js";

const page = document.documentElement.dataset;

export async function start() {
  if (page.kept && !page.away) tell();
  if (page.away) (await import("./away.js")).open(document.getElementById("main"), page.away);
  try {
    await navigator.serviceWorker.register("/worker.js");
    const { active } = await navigator.serviceWorker.ready;
    navigator.storage?.persist?.();
    if (!page.kept) active.postMessage({ ahead: location.pathname });
  } catch { /* a certificate that was clicked through: the page works without */ }
}

function tell() {
  const note = Object.assign(document.createElement("p"), { id: "kept", className: "note" });
  note.setAttribute("role", "status");
  const at = new Date(Number(page.kept));
  note.textContent = `The farm does not answer. As it was at ${clock(at)} (${age(Date.now() - at)}); what you tap is kept here.`;
  (document.querySelector(".bag-screen") ?? document.getElementById("main")).prepend(note);
}
