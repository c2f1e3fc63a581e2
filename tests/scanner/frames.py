"""Pictures as a tablet's camera takes them of a label: a pinhole camera, and what a bench does to a label and to light.

The camera is 1920 x 1080 px with 65 degrees across, as back cameras of tablets are (from memory, no source). A label
lies at a distance, turned and tilted (pinhole projection, any textbook on computer vision). Sizes of smears and glare,
blur and noise are our own guesses of a bench, not measured at one; all is drawn from a seed.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from PIL import Image, ImageChops, ImageDraw, ImageFilter

from benchapp.core.codes import make_code
from benchapp.paper.label import HEIGHT_MM, MM_PER_INCH, WIDTH_MM, Label, draw, module_dots

WIDE, HIGH = 1920, 1080
ACROSS = 65.0  # degrees
FOCAL = WIDE / 2 / math.tan(math.radians(ACROSS / 2))  # px
DPI = 300
DOT = MM_PER_INCH / DPI  # mm
MODULE = module_dots(DPI) * DOT  # mm
SYMBOL = 21 * MODULE
NEAR, FAR = 100, 400  # mm
CUT = (HIGH * 4 // 3, HIGH)  # what the page cuts out of the middle (static/js/finder.js)
Row = tuple[float, float, float]


@dataclass(frozen=True)
class Frame:
    """One picture, the code that is on it, the condition, the distance in mm and the pixels of one module."""

    picture: Image.Image
    code: str
    condition: str
    distance: float
    module: float


@dataclass(frozen=True)
class Look:
    """What is wrong in a picture: tilt in degrees, blur in modules, the rest from 0 (none) to 1."""

    tilt: float = 0
    blur: float = 0
    glare: float = 0
    smear: float = 0
    dark: float = 0


CONDITIONS: dict[str, Callable[[Random], Look]] = {
    "plain": lambda r: Look(tilt=r.uniform(0, 10)),
    "tilt": lambda r: Look(tilt=r.uniform(25, 50)),
    "blur": lambda r: Look(tilt=r.uniform(0, 10), blur=r.uniform(0.3, 0.8)),
    "glare": lambda r: Look(tilt=r.uniform(0, 20), glare=r.uniform(0.5, 1)),
    "smear": lambda r: Look(tilt=r.uniform(0, 10), smear=r.uniform(0.5, 1)),
    "low light": lambda r: Look(tilt=r.uniform(0, 10), dark=r.uniform(0.5, 1)),
    "some of all": lambda r: Look(r.uniform(5, 25), r.uniform(0.1, 0.4), *(r.uniform(0, 0.4) for _ in range(3))),
}


def frame(condition: str, seed: str) -> Frame:
    """Return a picture of a condition; the same seed gives the same one."""
    chance = Random(f"{condition} {seed}")
    look = CONDITIONS[condition](chance)
    code = make_code(chance.choice("12BAPTDS"), chance.choice)
    distance = chance.uniform(NEAR, FAR)
    scale = FOCAL / distance  # px a mm
    label = printed(code, look, chance)
    back = inverse(projection(look.tilt, distance, chance))
    seen = onto_bench(label, back, scale, chance)
    if look.blur:
        seen = seen.filter(ImageFilter.GaussianBlur(look.blur * MODULE * scale))
    return Frame(exposed(seen, look, chance), code, condition, distance, MODULE * scale)


def printed(code: str, look: Look, chance: Random) -> Image.Image:
    """Return the label as it is printed, with what was smeared on it and the lamp's reflection, one pixel a dot."""
    label = draw(Label(code, "Upper jaw", ("Order 4711", "due 2031-01-15")), DPI).convert("L")
    left, top = 4 * MODULE, (HEIGHT_MM - SYMBOL) / 2

    def on_symbol() -> tuple[float, float]:
        return left + chance.uniform(0, SYMBOL), top + chance.uniform(0, SYMBOL)

    if look.smear:  # resin of the finger: up to a tenth of the symbol's area, dark and half transparent
        across = math.sqrt(look.smear * 0.1 * 4 / math.pi) * SYMBOL
        label = spot(label, on_symbol(), across, shade=chance.choice((70, 235)), edge=0.15, depth=0.92)
    if look.glare:  # a lamp's reflection that swallows black too, up to a sixth of the symbol across
        label = spot(label, on_symbol(), look.glare * SYMBOL / 3, shade=255, edge=0.5, depth=1.0)
    return label


def spot(
    label: Image.Image, at: tuple[float, float], across: float, shade: int, edge: float, depth: float
) -> Image.Image:
    """Lay a round spot of `across` mm on a label; `edge` is how much of it fades out, `depth` how much it covers."""
    mask = Image.new("L", label.size, 0)
    box = [(value + sign * across / 2) / DOT for sign in (-1, 1) for value in at]
    ImageDraw.Draw(mask).ellipse(box, fill=round(255 * depth))
    mask = mask.filter(ImageFilter.GaussianBlur(across * edge / 2 / DOT))
    return Image.composite(Image.new("L", label.size, shade), label, mask)


def projection(tilt: float, distance: float, chance: Random) -> tuple[Row, Row, Row]:
    """Return the homography from mm on the label to px of the picture, the label near the middle."""
    turn, lean, axis = chance.uniform(0, math.tau), math.radians(tilt), chance.uniform(0, math.tau)
    ax, ay = math.cos(axis), math.sin(axis)
    cos, sin = math.cos(lean), math.sin(lean)
    # Rodrigues' formula for a turn about an axis in the plane of the label; its first two columns.
    first = (cos + ax * ax * (1 - cos), ax * ay * (1 - cos), -ay * sin)
    second = (ax * ay * (1 - cos), cos + ay * ay * (1 - cos), ax * sin)
    c, s = math.cos(turn), math.sin(turn)
    columns = [[c * a + s * b for a, b in zip(first, second, strict=True)],
               [c * b - s * a for a, b in zip(first, second, strict=True)]]
    # A hand aims with the symbol, not with the label: a tenth of the picture's height beside the middle.
    off = 0.1 * HIGH * distance / FOCAL
    middle = (4 * MODULE + SYMBOL / 2, HEIGHT_MM / 2)
    place = [chance.uniform(-off, off), chance.uniform(-off, off), distance]
    move = [place[i] - columns[0][i] * middle[0] - columns[1][i] * middle[1] for i in range(3)]
    rows = [(columns[0][i], columns[1][i], move[i]) for i in range(3)]
    across = tuple(FOCAL * rows[0][i] + WIDE / 2 * rows[2][i] for i in range(3))
    down = tuple(FOCAL * rows[1][i] + HIGH / 2 * rows[2][i] for i in range(3))
    return (across[0], across[1], across[2]), (down[0], down[1], down[2]), rows[2]


def inverse(m: tuple[Row, Row, Row]) -> tuple[Row, Row, Row]:
    """Return the inverse of a 3 x 3 matrix, but for its scale: the adjugate."""
    (a, b, c), (d, e, f), (g, h, i) = m
    return (
        (e * i - f * h, c * h - b * i, b * f - c * e),
        (f * g - d * i, a * i - c * g, c * d - a * f),
        (d * h - e * g, b * g - a * h, a * e - b * d),
    )


def onto_bench(label: Image.Image, back: tuple[Row, Row, Row], scale: float, chance: Random) -> Image.Image:
    """Return the picture of a label on a bench with other things on it; `back` leads from px to mm on the label."""
    bench = Image.new("L", (WIDE, HIGH), chance.randrange(60, 170))
    pen = ImageDraw.Draw(bench)
    for _thing in range(12):
        x, y, size = chance.uniform(0, WIDE), chance.uniform(0, HIGH), chance.uniform(20, 200)
        pen.ellipse((x, y, x + size, y + size * chance.uniform(0.2, 1)), fill=chance.randrange(30, 230))
    # What is drawn smaller than it is printed is made smaller with care first, as a lens does.
    dots = min(1 / DOT, scale * 1.5)
    small = label.resize((round(WIDTH_MM * dots), round(HEIGHT_MM * dots)), Image.Resampling.LANCZOS)
    rows = [[value * factor for value in row] for row, factor in zip(back, (dots, dots, 1), strict=True)]
    eight = [value / rows[2][2] for row in rows for value in row][:8]
    way = (Image.Transform.PERSPECTIVE, eight, Image.Resampling.BICUBIC)
    mask = Image.new("L", small.size, 255).transform(bench.size, *way)
    bench.paste(small.transform(bench.size, *way), (0, 0), mask)
    return bench


def exposed(seen: Image.Image, look: Look, chance: Random) -> Image.Image:
    """Return the middle of a picture as the sensor gives it: darker where there is little light, and with its noise."""
    left = (WIDE - CUT[0]) // 2
    seen = seen.crop((left, 0, left + CUT[0], HIGH))
    light = 0.9 - 0.75 * look.dark
    swing = 6 + 34 * look.dark  # of the noise, either way, in steps of 256
    noise = Image.frombytes("L", seen.size, chance.randbytes(seen.width * seen.height))
    noise = noise.point([round(value * 2 * swing / 255) for value in range(256)])
    return ImageChops.add(seen.point([round(value * light) for value in range(256)]), noise, 1, -round(swing))
