// Reads codes out of pictures in a thread of its own. It is no module: the decoder comes as a script.

importScripts("/static/vendor/zxing-reader-3.1.4.js");

const LOOK_FOR = { formats: ["QRCode"], tryInvert: false, maxNumberOfSymbols: 4 };
// What is not found one way is looked for another way in the next picture: a lamp's reflection and a smear want one
// threshold for the whole picture, noise of little light wants fewer and larger pixels (measured by `tests/scanner`).
const WAYS = [{ scale: 1 }, { scale: 1, binarizer: "GlobalHistogram" }, { scale: 0.5 }];
let way = 0;
const canvas = new OffscreenCanvas(1, 1);
const pen = canvas.getContext("2d", { willReadFrequently: true });

ZXingWASM.prepareZXingModule({ overrides: { locateFile: () => "/static/vendor/zxing-reader-3.1.4.wasm" }, fireImmediately: true })
  .then(() => postMessage({ ready: true }), (error) => postMessage({ error: String(error) }));

// Tells of each symbol how far from the middle it lies, as a part of the picture's height.
function told({ text, position }, { width, height }) {
  const corners = [position.topLeft, position.topRight, position.bottomLeft, position.bottomRight];
  const middle = (name) => corners.reduce((sum, corner) => sum + corner[name], 0) / 4;
  return { text, off: Math.hypot(middle("x") - width / 2, middle("y") - height / 2) / height };
}

onmessage = async ({ data: picture }) => {
  const { scale, ...how } = WAYS[way];
  const [width, height] = [Math.round(picture.width * scale), Math.round(picture.height * scale)];
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  pen.drawImage(picture, 0, 0, width, height);
  picture.close();
  try {
    const read = await ZXingWASM.readBarcodes(pen.getImageData(0, 0, width, height), { ...LOOK_FOR, ...how });
    const found = read.filter(({ isValid, text }) => isValid && text).map((one) => told(one, canvas));
    way = found.length ? 0 : (way + 1) % WAYS.length;
    postMessage({ found });
  } catch (error) {
    postMessage({ error: String(error) });
  }
};
