// A label read by the camera, where the phone can; the typed tag does the same.

import { button, h } from "./dom.js";

const EVERY = 250; // between two looks [ms]

export const canScan = () => "BarcodeDetector" in window && Boolean(navigator.mediaDevices?.getUserMedia);

/** Show the camera until a code is read or somebody stops it; resolves with what the code says, or "". */
export async function scan(into) {
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" }, audio: false });
  } catch {
    into.replaceChildren(h("p", { className: "caution", role: "alert" }, "The camera cannot be used. Type the tag."));
    return "";
  }
  const video = h("video", { className: "camera", autoplay: true, muted: true, playsInline: true, "aria-label": "Camera" });
  video.srcObject = stream;
  const detector = new BarcodeDetector();
  return new Promise((resolve) => {
    let timer;
    const stop = (found) => {
      clearInterval(timer);
      for (const track of stream.getTracks()) track.stop();
      into.replaceChildren();
      resolve(found);
    };
    into.replaceChildren(video, button("Stop the camera", () => stop("")));
    timer = setInterval(async () => {
      const codes = await detector.detect(video).catch(() => []);
      const said = codes.map((code) => code.rawValue.trim()).find(Boolean);
      if (said) stop(said);
    }, EVERY);
  });
}
