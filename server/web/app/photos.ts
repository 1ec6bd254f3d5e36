// Photos are kept as the camera made them, named by the SHA-256 of their
// bytes, and shown by a small copy.

import { db, type Picture } from "./store";
import type { Photo } from "./words";

/** hex writes bytes as a digest is written. */
export const hex = (b: ArrayBuffer): string => [...new Uint8Array(b)].map((x) => x.toString(16).padStart(2, "0")).join("");

const biggest = 25 * 1024 * 1024;

/** sealPhoto stores a camera file for a find and returns its entry. */
export async function sealPhoto(file: File, find: string): Promise<Picture> {
  if (file.size > biggest) throw new Error("This picture is larger than 25 MB. Take it again with a smaller size.");
  const [bytes, type] = await readable(file);
  const picture: Picture = {
    sha256: hex(await crypto.subtle.digest("SHA-256", await bytes.arrayBuffer())),
    find, type, size: bytes.size, at: Date.now(), bytes, thumb: await small(bytes, 240), sent: 2,
  };
  const d = await db();
  const old = await d.get("photos", [find, picture.sha256]);
  if (old) return old;
  await d.put("photos", picture);
  return picture;
}

// Only JPEG and PNG travel. Anything else the phone can show is made a JPEG.
async function readable(file: File): Promise<[Blob, string]> {
  if (file.type === "image/jpeg" || file.type === "image/png") {
    if (!(await small(file, 240))) throw new Error("This file is not a picture the phone can open. Take it again.");
    return [file.slice(0, file.size, file.type), file.type];
  }
  const made = await small(file, 4096, 0.92);
  if (!made) throw new Error("This file is not a picture the phone can open. Take it again.");
  return [made, "image/jpeg"];
}

async function small(file: Blob, edge: number, quality = 0.7): Promise<Blob | undefined> {
  const image = await createImageBitmap(file).catch(() => undefined);
  if (!image) return undefined;
  const scale = Math.min(1, edge / Math.max(image.width, image.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(image.width * scale));
  canvas.height = Math.max(1, Math.round(image.height * scale));
  canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
  image.close();
  return new Promise((done) => canvas.toBlob((b) => done(b ?? undefined), "image/jpeg", quality));
}

/** linkOf is the photo as the operation names it. */
export const linkOf = (p: Picture): Photo => ({ sha256: p.sha256, size: p.size, type: p.type, at: new Date(p.at).toISOString() });

/** picturesOf returns the pictures of a find, oldest first. */
export async function picturesOf(find: string): Promise<Picture[]> {
  return (await (await db()).getAllFromIndex("photos", "find", find)).sort((a, b) => a.at - b.at);
}

/** dropPictures forgets the pictures of a find that was thrown away before it was saved. */
export async function dropPictures(find: string): Promise<void> {
  const d = await db();
  for (const p of await picturesOf(find)) if (p.sent === 2) await d.delete("photos", [find, p.sha256]);
}
