"""A camera that shows what a test holds before it: a browser that takes its pictures from a file."""

from collections.abc import Sequence
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser

from benchapp.paper.label import Label, draw
from tests.browser import browser_args, whole_browser

SIZE = (1280, 720)
BENCH = (92, 104, 110)  # the bench under the label


def label(code: str, dpi: int = 300) -> Image.Image:
    """Return the picture of a label with this code."""
    return draw(Label(code, "Held before the camera", ("in a test",)), dpi).convert("RGB")


def held(*codes: str) -> Image.Image:
    """Return what a camera sees of a label that is held a little crooked, or of two, the first nearer to the middle."""
    seen = Image.new("RGB", SIZE, BENCH)
    for number, code in enumerate(codes):
        piece = label(code)
        if len(codes) == 1:
            piece = piece.rotate(7, Image.Resampling.BICUBIC, expand=True, fillcolor=BENCH)
        top = (SIZE[1] - piece.height) // 2 if len(codes) == 1 else (310, 5)[number]
        seen.paste(piece, ((SIZE[0] - piece.width) // 2, top))
    return seen


def film(path: Path, pictures: Sequence[Image.Image], rate: int = 10) -> None:
    """Write pictures of one size as uncompressed video (YUV4MPEG2, 4:2:0), which the browser repeats for ever."""
    width, height = pictures[0].size
    head = f"YUV4MPEG2 W{width} H{height} F{rate}:1 Ip A1:1 C420jpeg\n".encode()
    frames = []
    for picture in pictures:
        y, *colours = picture.convert("YCbCr").split()
        half = (width // 2, height // 2)
        frames.append(b"FRAME\n" + y.tobytes() + b"".join(c.resize(half).tobytes() for c in colours))
    fresh = path.with_suffix(".new")
    fresh.write_bytes(head + b"".join(frames))
    fresh.replace(path)


class Camera:
    """The camera of one browser; what is shown counts from the next time that it starts."""

    def __init__(self, browser: Browser, file: Path, *switches: str) -> None:
        self.file = file
        self.show()
        shown = ["--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={file}"]
        self.browser = browser.browser_type.launch(
            executable_path=whole_browser(), args=[*browser_args(), *shown, *switches])

    def show(self, *codes: str) -> None:
        """Hold labels before it, or nothing."""
        film(self.file, [held(*codes)] * 2)
