// The camera at the back of the tablet, its light, and why it may not be had.
import { gettext, interpolate } from "../language.js";

const ELSE = gettext("Take a photo of the code instead, or type the number.");
const WHY = {
  NotAllowedError: interpolate(
    gettext("The camera is not allowed here. Allow it for this site in the browser. {ELSE}"),
    { ELSE },
  ),
  NotFoundError: interpolate(gettext("No camera was found. {ELSE}"), { ELSE }),
  OverconstrainedError: interpolate(gettext("No camera was found. {ELSE}"), { ELSE }),
  NotReadableError: interpolate(
    gettext("Another app is using the camera. Close it and open this again. {ELSE}"),
    { ELSE },
  ),
  AbortError: interpolate(gettext("The camera stopped. {ELSE}"), { ELSE }),
};

export class NoCamera extends Error {}

export async function openCamera() {
  if (!navigator.mediaDevices?.getUserMedia)
    throw new NoCamera(interpolate(gettext("This browser gives the page no camera. {ELSE}"), { ELSE }));
  const video = { facingMode: { ideal: "environment" }, width: { ideal: 1920 }, height: { ideal: 1080 } };
  try {
    return await navigator.mediaDevices.getUserMedia({ video, audio: false });
  } catch (problem) {
    throw new NoCamera(
      WHY[problem.name] ?? interpolate(gettext("The camera does not open. {ELSE}"), { ELSE }),
    );
  }
}

export const closeCamera = (stream) => {
  for (const track of stream?.getTracks() ?? []) track.stop();
};

export const hasLight = (stream) => Boolean(stream.getVideoTracks()[0]?.getCapabilities?.().torch);

export const setLight = (stream, isOn) =>
  stream.getVideoTracks()[0].applyConstraints({ advanced: [{ torch: isOn }] });

const LONGEST = 1600;

// What the camera sees, or a photo, as a picture to be read; undefined while there is none.
export function pictureOf(source, longest = LONGEST) {
  const [wide, high] = [source.videoWidth ?? source.width, source.videoHeight ?? source.height];
  if (!wide || !high) return undefined;
  const scale = Math.min(1, longest / Math.max(wide, high));
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [Math.round(wide * scale), Math.round(high * scale)];
  canvas.getContext("2d", { willReadFrequently: true }).drawImage(source, 0, 0, canvas.width, canvas.height);
  return canvas;
}
