// The live camera: only where the browser gives one to this page (HTTPS, or
// this very machine). Symbols are read by the browser where it can, else by the
// farm from small pictures, one at a time and at most five a second. A find
// fills the field of the page's form and sends it; the camera then stops.
const SIDE = 480; // pixels of a picture sent to the farm
const PAUSE = 200; // milliseconds between two

export function enhance(box) {
  if (!navigator.mediaDevices?.getUserMedia) return;
  const button = make("button", { type: "button", className: "button main wide lead", textContent: "Use the camera" });
  const video = make("video", { muted: true, playsInline: true, hidden: true });
  const says = make("p", { role: "status" });
  box.append(video, button, says);
  box.hidden = false;
  let stream;
  const stop = () => {
    stream?.getTracks().forEach((track) => track.stop());
    stream = undefined;
    video.hidden = true;
    button.textContent = "Use the camera";
  };
  button.addEventListener("click", async () => {
    if (stream) { stop(); return; }
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      says.textContent = "The camera was not given to this page. Take a photo instead, or type the code.";
      return;
    }
    video.srcObject = stream;
    video.hidden = false;
    button.textContent = "Stop the camera";
    await video.play();
    const read = await reader();
    while (stream) {
      const text = await read(video).catch(() => "");
      if (text && stream) { stop(); open(box, text); return; }
      await new Promise((done) => setTimeout(done, PAUSE));
    }
  });
  addEventListener("pagehide", stop);
}

const make = (name, fields) => Object.assign(document.createElement(name), fields);

function open(box, text) {
  const form = document.getElementById(box.dataset.form);
  form.querySelector("input[name=code]").value = text;
  form.requestSubmit();
}

// reader gives what reads one frame: the text of a label of ours, "" for none.
async function reader() {
  if ("BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    return async (video) => (await detector.detect(video)).map((found) => found.rawValue).find((text) => /^https?:\/\/[^/]+\/[bslc]\//i.test(text)) ?? "";
  }
  const canvas = make("canvas", { width: SIDE, height: SIDE });
  return async (video) => {
    const side = Math.min(video.videoWidth, video.videoHeight);
    canvas.getContext("2d").drawImage(video, (video.videoWidth - side) / 2, (video.videoHeight - side) / 2, side, side, 0, 0, SIDE, SIDE);
    const picture = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.6));
    const answer = await fetch("/api/v1/scans", { method: "POST", body: picture, headers: { "Content-Type": "image/jpeg" } });
    if (!answer.ok) return "";
    return (await answer.json()).found.find((f) => f.known && f.certain)?.text ?? "";
  };
}
