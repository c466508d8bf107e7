// A photo made small enough to keep and to send; what cannot be read as a picture is kept as it is.

const LONGEST = 1600; // [px]
const QUALITY = 0.82;

export async function shrunk(file) {
  try {
    const image = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(image.width * scale);
    canvas.height = Math.round(image.height * scale);
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    image.close();
    const made = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
    if (made) return { bytes: await made.arrayBuffer(), type: "image/jpeg", name: "photo.jpg" };
  } catch {
    // Not a picture that this phone can read: the server says what it takes.
  }
  return { bytes: await file.arrayBuffer(), type: file.type || "application/octet-stream", name: file.name || "photo" };
}
