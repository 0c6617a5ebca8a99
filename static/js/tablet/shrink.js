// Makes a camera file small enough to send from a roof: 1600 px JPEG, with the hash of the file as it came.
import { sha256 } from "./hash.js";

const LONGEST = 1600;
const THUMB = 320;
const QUALITY = 0.8;
const MOST_BYTES = 15 * 1024 * 1024;

export async function shrink(file) {
  const bytes = await file.arrayBuffer();
  const original = await sha256(bytes);
  const picture = await decoded(file);
  if (!picture) return asItCame(file, bytes, original);
  const [blob, thumb] = [await drawn(picture, LONGEST), await drawn(picture, THUMB)];
  picture.close();
  const isSmaller = blob.size < file.size || file.type !== "image/jpeg";
  const kept = isSmaller || file.size > MOST_BYTES ? blob : new Blob([bytes], { type: "image/jpeg" });
  return { ...(await facts(kept, original)), thumb };
}

// A picture this browser cannot open (HEIC) is sent as it came: the server opens it.
async function asItCame(file, bytes, original) {
  if (file.size > MOST_BYTES)
    return {
      error: "This picture is larger than 15 MB and cannot be made smaller here. Take it again as JPEG.",
    };
  const type = file.type || (/\.hei[cf]$/i.test(file.name) ? "image/heic" : "application/octet-stream");
  const blob = new Blob([bytes], { type });
  return { ...(await facts(blob, original)), thumb: null };
}

async function facts(blob, original) {
  return {
    id: crypto.randomUUID(),
    blob,
    size: blob.size,
    type: blob.type,
    sha256: await sha256(await blob.arrayBuffer()),
    original_sha256: original,
  };
}

async function decoded(file) {
  try {
    return await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    return null;
  }
}

async function drawn(picture, longest) {
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const [width, height] = [picture.width, picture.height].map((side) =>
    Math.max(1, Math.round(side * scale)),
  );
  const canvas = new OffscreenCanvas(width, height);
  canvas.getContext("2d").drawImage(picture, 0, 0, width, height);
  return canvas.convertToBlob({ type: "image/jpeg", quality: QUALITY });
}
