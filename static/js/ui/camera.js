// The live camera: only where the browser gives one to this page (HTTPS, or
// this very machine). Symbols are read by the browser where it can, else by the
// farm from small pictures, one at a time and at most five a second. What is
// surely read goes into the page's form; with data-on the camera goes on to the
// next label, else it stops. What is only probably read waits for a tap.
import { reader } from "../lib/frames.js";
import { refused, wake } from "../lib/signal.js";

const PAUSE = 200; // milliseconds between two pictures
const GONE = 1500; // milliseconds without a label after which it counts as taken away
const NOTHING = 10000; // milliseconds without a label after which the page says so

const WHY = {
  NotAllowedError: "The camera is not allowed for this page. The browser's settings for this site give it back.",
  NotFoundError: "This device has no camera that the browser can use.",
  NotReadableError: "Another program is using the camera. Close it, then try again.",
};
const OTHERWISE = " Meanwhile: take a photo, type the eight characters, or use a hand-held scanner.";
const UNREAD = "No label has been read for ten seconds. Nearer, flatter, more light, less glare; wipe the film." + OTHERWISE;

export function enhance(box) {
  if (!navigator.mediaDevices?.getUserMedia) return;
  const button = make("button", { type: "button", className: "button wide", textContent: "Use the camera" });
  const light = make("button", { type: "button", className: "button", textContent: "Light", hidden: true });
  const video = make("video", { muted: true, playsInline: true, hidden: true });
  const says = make("p", { role: "status" });
  const maybe = make("section", { className: "note stack", hidden: true });
  const buttons = make("p", { className: "buttons" });
  buttons.append(button, light);
  box.append(video, buttons, says, maybe);
  box.hidden = false;
  let stream;
  let lock;
  const stop = (why = "") => {
    stream?.getTracks().forEach((track) => track.stop());
    lock?.release().catch(() => {});
    stream = lock = undefined;
    video.hidden = light.hidden = true;
    button.textContent = "Use the camera";
    says.textContent = why;
  };
  const start = async () => {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { min: 640, ideal: 1920 }, height: { min: 480, ideal: 1080 } } });
    const [track] = stream.getVideoTracks();
    track.addEventListener("ended", () => stop("The camera was taken away from this page."));
    light.hidden = !track.getCapabilities?.().torch;
    light.setAttribute("aria-pressed", "false");
    video.srcObject = stream;
    video.hidden = false;
    button.textContent = "Stop the camera";
    says.textContent = "";
    await video.play();
    lock = await navigator.wakeLock?.request("screen").catch(() => undefined);
  };
  light.addEventListener("click", async () => {
    const on = light.getAttribute("aria-pressed") !== "true";
    await stream?.getVideoTracks()[0].applyConstraints({ advanced: [{ torch: on }] }).catch(() => {});
    light.setAttribute("aria-pressed", String(on));
  });
  button.addEventListener("click", async () => {
    wake();
    if (stream) { stop(); return; }
    try {
      await start();
    } catch (error) {
      stop((WHY[error.name] ?? "The camera did not start.") + OTHERWISE);
      return;
    }
    await look(box, video, maybe, says, () => stream, stop);
  });
  document.addEventListener("visibilitychange", () => { if (document.hidden) stop(); });
  addEventListener("pagehide", () => stop());
}

const make = (name, fields) => Object.assign(document.createElement(name), fields);

// look reads frame after frame while the camera is on. A label that stays in the
// picture is one label.
async function look(box, video, maybe, says, on, stop) {
  const read = await reader();
  const goesOn = "on" in box.dataset;
  let last = "";
  let lastAt = 0;
  let since = performance.now(); // the last label, or the start
  const mine = on();
  while (on() === mine && mine) {
    const found = await read(video).catch(() => null);
    if (on() !== mine) return;
    if (found === null) says.textContent = "The farm does not answer, and this browser reads no symbols by itself: type the code.";
    const now = performance.now();
    if (found?.text) since = goesOn ? Infinity : now; // once it reads, a pause between two bags says nothing
    else if (found) tell(says, now - since > NOTHING ? UNREAD : "");
    if (found?.text && (found.text !== last || now - lastAt > GONE)) {
      box.dataset.seen = String(now);
      maybe.hidden = true;
      says.textContent = "";
      if (found.certain) {
        window.lines.put(found.text);
        if (!goesOn) { stop(); return; }
      } else ask(maybe, found);
    }
    if (found?.text) { last = found.text; lastAt = now; }
    await new Promise((done) => setTimeout(done, PAUSE));
  }
}

// tell says it once: the same words again would be read out again.
function tell(says, words) {
  if (says.textContent !== words) says.textContent = words;
}

// ask shows the code in the largest letters: the person has the label at hand.
function ask(maybe, { text, code }) {
  if (!maybe.hidden) return;
  refused();
  const yes = make("button", { type: "button", className: "button main wide", textContent: "Yes, I see that code" });
  const no = make("button", { type: "button", className: "button wide", textContent: "No" });
  yes.addEventListener("click", () => { maybe.hidden = true; window.lines.put(text); });
  no.addEventListener("click", () => { maybe.hidden = true; });
  maybe.replaceChildren(make("p", { className: "lead", textContent: "Probably this one:" }), make("p", { className: "far code", textContent: `${code.slice(0, 4)}-${code.slice(4)}` }), yes, no);
  maybe.hidden = false;
}
