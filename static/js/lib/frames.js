// Reads one frame of a film: {text, code, certain} of a label of ours, {} for
// none. It throws where nobody could read it.
import { uuid } from "./outbox.js";

const SIDE = 640; // pixels of a picture sent to the farm
const OURS = /^https?:\/\/[^/]+\/[bslc]\/(\w{8})$/i;
const PATIENCE = 4000;

export async function reader() {
  if ("BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    return async (video) => {
      const text = (await detector.detect(video)).map((found) => found.rawValue).find((raw) => OURS.test(raw));
      return text ? { text, code: OURS.exec(text)[1].toUpperCase(), certain: true } : {};
    };
  }
  const film = uuid(); // the farm adds up what the frames of one film show
  const canvas = Object.assign(document.createElement("canvas"), { width: SIDE, height: SIDE });
  const context = canvas.getContext("2d", { willReadFrequently: true });
  return async (video) => {
    const side = Math.min(video.videoWidth, video.videoHeight);
    context.drawImage(video, (video.videoWidth - side) / 2, (video.videoHeight - side) / 2, side, side, 0, 0, SIDE, SIDE);
    const picture = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.6));
    const answer = await fetch(`/api/v1/scans?film=${film}`, { method: "POST", body: picture, headers: { "Content-Type": "image/jpeg" }, signal: AbortSignal.timeout?.(PATIENCE) });
    if (answer.status === 503) return {}; // others are being read: the next frame
    if (!answer.ok) throw new Error("not read");
    const known = (await answer.json()).found.filter((f) => f.known);
    return known.find((f) => f.certain) ?? known[0] ?? {};
  };
}
