// A photo made small on the phone, as bytes: what weak Wi-Fi can carry, and a phone can keep by the dozen.
import { shrunk } from "../photo_shrink.js";

const LONGEST_PX = 1600;

// `{ data, type }`. What the phone can't read goes as it is; the studio judges it.
export async function smallPhoto(file) {
  let small = file;
  try {
    small = await shrunk(file, LONGEST_PX);
  } catch {
    // left as it is
  }
  return { data: await small.arrayBuffer(), type: small.type || "image/jpeg" };
}
