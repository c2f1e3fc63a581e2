// Reads codes out of pictures in a thread of its own. It is no module: the decoder comes as a script.

importScripts("/static/vendor/zxing-reader-3.1.4.js");

const LOOK_FOR = { formats: ["QRCode"], tryInvert: false, maxNumberOfSymbols: 4 };
const canvas = new OffscreenCanvas(1, 1);
const pen = canvas.getContext("2d", { willReadFrequently: true });

ZXingWASM.prepareZXingModule({ overrides: { locateFile: () => "/static/vendor/zxing-reader-3.1.4.wasm" }, fireImmediately: true })
  .then(() => postMessage({ ready: true }), (error) => postMessage({ error: String(error) }));

// Tells of each symbol how far from the middle of the picture it lies, in pixels.
function told({ text, position }, { width, height }) {
  const corners = [position.topLeft, position.topRight, position.bottomLeft, position.bottomRight];
  const middle = (name) => corners.reduce((sum, corner) => sum + corner[name], 0) / 4;
  return { text, off: Math.hypot(middle("x") - width / 2, middle("y") - height / 2) };
}

onmessage = async ({ data: picture }) => {
  const { width, height } = picture;
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  pen.drawImage(picture, 0, 0);
  picture.close();
  try {
    const found = await ZXingWASM.readBarcodes(pen.getImageData(0, 0, width, height), LOOK_FOR);
    postMessage({ found: found.filter(({ isValid, text }) => isValid && text).map((one) => told(one, canvas)) });
  } catch (error) {
    postMessage({ error: String(error) });
  }
};
