"""Reads rendered pictures of labels with what the tablet reads them with: `python -m tests.scanner [--frames 500]`."""

import argparse
import io
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

import zxingcpp
from playwright.sync_api import Browser, Page, sync_playwright

from benchapp import paths
from tests.benchmarks.machine import RESULTS, machine, median, percentile, put, say, table
from tests.browser import browser_args, sure_browser
from tests.scanner.frames import CONDITIONS, DPI, MODULE, Frame, frame

BANDS = ((100, 200), (200, 300), (300, 400))  # mm
KINDS = {".js": "text/javascript", ".wasm": "application/wasm", "": "text/html"}

LOOKS = 3  # in which the worker tries each of its ways once
# The page's own worker, fed as the page feeds it until it finds something; a time is from the picture to the answer.
READ = """
async ([address, looks]) => {
  window.worker ??= await new Promise((resolve, reject) => {
    const made = new Worker("/static/js/camera-worker.js");
    made.onmessage = ({ data }) => (data.ready ? resolve(made) : reject(new Error(data.error)));
  });
  const blob = await (await fetch(address)).blob();
  const times = [];
  let found = [];
  while (times.length < looks && !found.length) {
    const picture = await createImageBitmap(blob);
    const began = performance.now();
    found = await new Promise((resolve) => {
      window.worker.onmessage = ({ data }) => resolve(data.found || []);
      window.worker.postMessage(picture, [picture]);
    });
    times.push(performance.now() - began);
  }
  return { times, found: found.map(({ text }) => text) };
}
"""


@dataclass(frozen=True)
class Read:
    """One picture and what came of it: read right at the first look or at all, read wrong, ms of each look."""

    condition: str
    distance: float
    module: float
    first: bool
    right: bool
    wrong: bool
    native: bool
    times: tuple[float, ...]
    floor: float


@contextmanager
def served(shown: dict[str, bytes]) -> Iterator[str]:
    """Serve the static files and the pictures in `shown` on loopback; yields the address."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            where = urlsplit(self.path).path
            file = paths.STATIC / where.removeprefix("/static/")
            body = shown.get(where) or (file.read_bytes() if where.startswith("/static/") and file.is_file() else b"")
            self.send_response(200)
            self.send_header("Content-Type", "image/bmp" if where in shown else KINDS.get(file.suffix, "text/plain"))
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def read(page: Page, shown: dict[str, bytes], one: Frame) -> Read:
    """Let the tablet's reader and the same library outside of the browser read one picture."""
    file = io.BytesIO()
    one.picture.save(file, "BMP")
    shown["/frame.bmp"] = file.getvalue()
    told = page.evaluate(READ, ["/frame.bmp", LOOKS])
    began = time.perf_counter()
    native = zxingcpp.read_barcodes(one.picture, formats=zxingcpp.BarcodeFormat.QRCode, try_invert=False)
    floor = (time.perf_counter() - began) * 1000
    right = told["found"] == [one.code]
    return Read(
        one.condition, one.distance, one.module, right and len(told["times"]) == 1, right,
        bool(set(told["found"]) - {one.code}), [found.text for found in native] == [one.code],
        tuple(told["times"]), floor,
    )


def measure(browser: Browser, count: int, seed: int) -> list[Read]:
    """Read `count` pictures, the conditions in turn."""
    shown: dict[str, bytes] = {}
    found: list[Read] = []
    with served(shown) as address:
        page = browser.new_page()
        page.goto(address)
        names = list(CONDITIONS)
        read(page, shown, frame(names[0], "warm"))  # the first compiles the reader
        for number in range(count):
            if number % 50 == 0:
                say(f"picture {number} of {count}")
            found.append(read(page, shown, frame(names[number % len(names)], f"{seed} {number}")))
        page.close()
    return found


def share(some: list[bool]) -> str:
    """Return how many of some are true, in percent and of how many."""
    return f"{sum(some) / len(some):.0%} of {len(some)}" if some else "–"


def report(found: list[Read], version: str, seed: int) -> str:
    """Return the tables as markdown."""
    rows = []
    for name in [*CONDITIONS, "all"]:
        some = [one for one in found if name in (one.condition, "all")]
        bands = [share([one.right for one in some if least <= one.distance < most]) for least, most in BANDS]
        ms = [time for one in some for time in one.times]
        shares = [share([getattr(one, what) for one in some]) for what in ("right", "first", "native")]
        rows.append([name, *bands, *shares, f"{median(ms):.0f}", f"{percentile(ms, 0.95):.0f}"])
    floor = median(one.floor for one in found)
    mine = median(one.times[0] for one in found)
    sizes = [one.module for one in found]
    return "\n\n".join([
        f"{machine(version)}. {len(found)} rendered pictures of labels at {DPI} dpi (seed {seed}), 1920 x 1080 px "
        f"cut to 1440 x 1080, symbol 21 modules of {MODULE:.2f} mm at 10 to 40 cm: {min(sizes):.1f} to "
        f"{max(sizes):.1f} px a module. Up to {LOOKS} looks at each picture, by distance and together; at the bench "
        "the page looks several times a second, and a hand moves. Rendered, not photographed: the conditions are "
        "guesses of a bench (tests/scanner/frames.py).",
        table(["condition", *(f"{a // 10} to {b // 10} cm" for a, b in BANDS), "together", "first look", "natively",
               "p50 ms a look", "p95"], rows),
        f"- read wrong: {sum(one.wrong for one in found)} of {len(found)}",
        f"- median of the first look {mine:.1f} ms in the page's worker; floor, the same library natively on the "
        f"same pictures: {floor:.1f} ms; ratio {mine / floor:.1f}",
    ])


def main() -> int:
    """Measure, print the table, write it into the results; 1 if any picture was read as another code."""
    options = argparse.ArgumentParser(prog="python -m tests.scanner", description=__doc__)
    options.add_argument("--frames", type=int, default=500)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--keep", action="store_true", help="write the table into tests/benchmarks/RESULTS.md")
    given = options.parse_args()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=sure_browser(), args=browser_args())
        found = measure(browser, given.frames, given.seed)
        text = report(found, browser.version, given.seed)
        browser.close()
    print(text)
    if given.keep:
        put("scanner", text, RESULTS)
    return int(any(one.wrong for one in found))


if __name__ == "__main__":
    sys.exit(main())
