"""Labels: read back by a decoder that did not write them (zxing-cpp), and looked at dot by dot."""

import io
import math
import random
from datetime import UTC, datetime
from itertools import groupby

import pypdfium2
import pytest
import zxingcpp
from PIL import Image, ImageChops, ImageDraw, ImageFilter

from benchapp.core.codes import KINDS, CodeError, make_code, spaced
from benchapp.paper.fonts import NO_GLYPH, face, printable
from benchapp.paper.label import DPI, MODULES, QUIET, Label, draw, module_dots, pdf, png, symbol

# One jaw, one part, one badge.
LETTERS = ("1", "B", "P")
SMEARS = ("square", "round", "stroke")


def label(letter: str, seed: int = 0) -> Label:
    """A label as the tool prints it, with a code from a seeded source."""
    code = make_code(letter, random.Random(f"{letter}{seed}").choice)
    if letter == "P":
        return Label(code, "badge", ("Łukasz Żółć",))
    return Label(code, KINDS[letter], ("base 1 rev B", "patient K-0417", "due 2031-03-05", "training"))


def read(picture: Image.Image) -> list[str]:
    """All that zxing-cpp finds in a picture, of any symbology."""
    return [found.text for found in zxingcpp.read_barcodes(picture.convert("L"))]


def read_right(picture: Image.Image, code: str) -> bool:
    """Whether the code was read; a decoder may find nothing, but never something else."""
    found = read(picture)
    assert found in ([], [code])
    return bool(found)


def symbol_box(picture: Image.Image, dpi: int) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the dark dots left of the words."""
    module = module_dots(dpi)
    dark = ImageChops.invert(picture.convert("L")).crop(
        (0, 0, (2 * QUIET + MODULES) * module, picture.height)
    )
    box = dark.getbbox()
    assert box is not None
    return box


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize("letter", LETTERS)
def test_read_back(letter: str, dpi: int) -> None:
    """The decoder reads exactly the ten bare characters from a QR symbol of version 1, level H."""
    for seed in range(10):
        asked = label(letter, seed)
        (found,) = zxingcpp.read_barcodes(draw(asked, dpi).convert("L"))
        assert found.text == asked.code and found.bytes == asked.code.encode()
        assert found.format == zxingcpp.BarcodeFormat.QRCode
        assert (found.extra["Version"], found.ec_level) == ("1", "H")


@pytest.mark.parametrize("dpi", DPI)
def test_size_and_whole_dots(dpi: int) -> None:
    """Label 50 x 25 mm, symbol 20 mm or more, and every run of dots in it a whole number of modules."""
    picture = draw(label("1"), dpi)
    assert picture.mode == "1"
    assert picture.size == (round(50 / 25.4 * dpi), round(25 / 25.4 * dpi))
    left, top, right, bottom = symbol_box(picture, dpi)
    assert right - left == bottom - top
    module, rest = divmod(right - left, 21)
    assert rest == 0
    assert 20.0 <= (right - left) / dpi * 25.4 < 22.0
    # 4 dots a module is the least that the originator of QR codes advises.
    assert module >= 4

    def runs(dots: list[int]) -> set[int]:
        return {len(list(run)) % module for _, run in groupby(dots)}

    cells = picture.convert("L").crop((left, top, right, bottom))
    rows = [[cells.getpixel((x, y)) for x in range(cells.width)] for y in range(cells.height)]
    assert set().union(*(runs(row) for row in rows)) == {0}
    assert set().union(*(runs(list(column)) for column in zip(*rows, strict=True))) == {0}


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize("letter", LETTERS)
def test_quiet_zone(letter: str, dpi: int) -> None:
    """Nothing is printed within 4 modules left and right of the symbol, nor above and below it at all."""
    picture = draw(label(letter), dpi)
    module = module_dots(dpi)
    left, top, right, bottom = symbol_box(picture, dpi)
    dark = ImageChops.invert(picture.convert("L"))
    assert left >= 4 * module and min(top, picture.height - bottom) >= 1.75 * module
    assert dark.crop((right, 0, right + 4 * module, picture.height)).getbbox() is None
    assert dark.crop((0, 0, right, top)).getbbox() is None
    assert dark.crop((0, bottom, right, picture.height)).getbbox() is None


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize("ground", ["white", "black", "striped"])
def test_turned_on_any_ground(ground: str, dpi: int) -> None:
    """Turned by any angle, on black and striped ground that ends its short quiet zone too, it is read."""
    for letter in LETTERS:
        asked = label(letter)
        flat = draw(asked, dpi).convert("L")
        side = round(flat.width * 1.3)
        under = Image.new("L", (side, side), 255 if ground == "white" else 0)
        if ground == "striped":
            pen, module = ImageDraw.Draw(under), module_dots(dpi)
            for x in range(0, side, 2 * module):
                pen.rectangle((x, 0, x + module - 1, side), fill=255)
        for angle in range(0, 360, 13):
            turned = flat.rotate(angle, Image.Resampling.BICUBIC, expand=True)
            shape = Image.new("L", flat.size, 255).rotate(angle, Image.Resampling.BICUBIC, expand=True)
            scene = under.copy()
            scene.paste(turned, ((side - turned.width) // 2, (side - turned.height) // 2), shape)
            assert read_right(scene, asked.code), (letter, angle)


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize("letter", LETTERS)
def test_blurred(letter: str, dpi: int) -> None:
    """Blurred by half a module to one (the Gaussian's full width at half height), a label on black is read.

    Measured: zxing-cpp's limit is a standard deviation of about 0.5 modules, which is 1.2 modules wide.
    """
    for seed in range(8):
        asked = label(letter, seed)
        flat = draw(asked, dpi).convert("L")
        scene = Image.new("L", (flat.width + 80, flat.height + 80), 0)
        scene.paste(flat, (40, 40))
        for wide in (0.5, 0.75, 1.0):
            deviation = wide / math.sqrt(8 * math.log(2)) * module_dots(dpi)
            assert read_right(scene.filter(ImageFilter.GaussianBlur(deviation)), asked.code), (seed, wide)


def smeared(
    flat: Image.Image, dpi: int, part: float, shape: str, fill: int, source: random.Random
) -> tuple[Image.Image, bool]:
    """A picture with part of its symbol smeared at a random place; whether the finders are left free."""
    module, (left, top, _, _) = module_dots(dpi), symbol_box(flat, dpi)
    area = part * MODULES**2
    wide = high = math.sqrt(area * (4 / math.pi if shape == "round" else 1))
    if shape == "stroke":
        wide, high = area / 2.5, 2.5
        if source.random() < 0.5:
            wide, high = high, wide
    x, y = source.uniform(0, MODULES - wide), source.uniform(0, MODULES - high)
    picture = flat.copy()
    pen = ImageDraw.Draw(picture)
    box = tuple(round(v) for v in (left + x * module, top + y * module, left + (x + wide) * module, 0))
    box = (*box[:3], round(top + (y + high) * module))
    (pen.ellipse if shape == "round" else pen.rectangle)(box, fill=fill)
    # A finder pattern with its separator is 8 x 8 modules in three of the corners.
    low_x, high_x, low_y, high_y = x < 8, x + wide > 13, y < 8, y + high > 13
    return picture, not ((low_x and low_y) or (high_x and low_y) or (low_x and high_y))


def smear_rates(part: float, shapes: tuple[str, ...], places: int) -> dict[bool, float]:
    """The part of smeared labels that is read, for finders left free (True) and hit (False)."""
    source, seen = random.Random(20), {True: [], False: []}
    for dpi in DPI:
        for letter in LETTERS:
            asked = label(letter)
            flat = draw(asked, dpi).convert("L")
            for shape in shapes:
                for fill in (0, 128, 255):
                    for _ in range(places):
                        picture, free = smeared(flat, dpi, part, shape, fill, source)
                        seen[free].append(read_right(picture, asked.code))
    assert min(map(len, seen.values())) >= 50
    return {free: sum(got) / len(got) for free, got in seen.items()}


def test_smeared_over_a_twentieth() -> None:
    """Compact smears over a twentieth of the symbol that leave the finders free are always read.

    A long stroke of the same area may cross the timing and format modules: measured 97 %.
    """
    assert smear_rates(0.05, ("square", "round"), 16)[True] == 1.0
    assert smear_rates(0.05, ("stroke",), 16)[True] >= 0.9


def test_smeared_over_a_tenth() -> None:
    """A tenth smeared in one place is read more often than not with the finders free, and never wrongly.

    Measured over 1427 free places: squares 73 %, rounds 59 %, strokes 45 %, in all 61 %: a smear of 44
    modules touches up to 12 codewords of 26, and level H mends 8. Over a finder, 7213 places: 20 %.
    """
    rates = smear_rates(0.1, SMEARS, 16)
    assert rates[True] >= 0.45
    assert rates[False] >= 0.1


@pytest.mark.parametrize("dpi", DPI)
def test_a_film_of_resin_over_a_tenth(dpi: int) -> None:
    """A translucent smear over a tenth of the symbol, anywhere, finders included, is always read.

    That is what a resin-wet glove leaves (common practice, no source): the dots show through, with half
    of their contrast gone, and the camera blurs by half a module, as any does. Tried besides: with three
    quarters gone not all are read; without any blur a film at 203 dpi, whose modules fall exactly on the
    decoder's 8 x 8 blocks, is not always read either.
    """
    source, blur = random.Random(7), 0.5 / math.sqrt(8 * math.log(2)) * module_dots(dpi)
    for letter in LETTERS:
        asked = label(letter)
        flat = draw(asked, dpi).convert("L")
        for shape in SMEARS:
            for tone in (60, 150, 230):
                for _ in range(12):
                    state = source.getstate()
                    black, _ = smeared(flat, dpi, 0.1, shape, 0, source)
                    source.setstate(state)
                    white, _ = smeared(flat, dpi, 0.1, shape, 255, source)
                    under = ImageChops.difference(black, white).point(lambda dot: 128 if dot == 255 else 0)
                    film = Image.composite(Image.new("L", flat.size, tone), flat, under)
                    seen = film.filter(ImageFilter.GaussianBlur(blur))
                    assert read_right(seen, asked.code), (letter, shape, tone)


def test_scattered_specks() -> None:
    """Two wrong modules in every hundred, anywhere outside the finders, are always read."""
    source = random.Random(4)
    for dpi in DPI:
        module = module_dots(dpi)
        for letter in LETTERS:
            asked = label(letter)
            flat = draw(asked, dpi).convert("L")
            left, top, _, _ = symbol_box(flat, dpi)
            free = [(x, y) for x in range(MODULES) for y in range(MODULES) if x > 8 and y > 8]
            for _ in range(20):
                picture = flat.copy()
                for x, y in source.sample(free, 8):
                    at = (left + x * module, top + y * module)
                    box = (*at, at[0] + module, at[1] + module)
                    picture.paste(ImageChops.invert(picture.crop(box)), box)
                assert read_right(picture, asked.code)


def test_png_says_its_size() -> None:
    """The PNG is 1-bit and names its dots per inch, so that a viewer prints it 50 mm wide."""
    for dpi in DPI:
        with Image.open(io.BytesIO(png(label("1"), dpi))) as picture:
            assert picture.mode == "1"
            assert picture.info["dpi"][0] == pytest.approx(dpi, abs=0.02)
            assert picture.width / picture.info["dpi"][0] * 25.4 == pytest.approx(50, abs=0.1)


def test_pdf_pages() -> None:
    """Each page of the PDF is 50 x 25 mm, is read back when drawn by pdfium, and holds the words as text."""
    labels = [label(letter, seed) for letter in LETTERS for seed in range(3)]
    document = pypdfium2.PdfDocument(pdf(labels))
    assert len(document) == len(labels)
    for page, asked in zip(document, labels, strict=True):
        assert page.get_size() == pytest.approx((50 / 25.4 * 72, 25 / 25.4 * 72), abs=0.05)
        for dpi in DPI:
            (found,) = zxingcpp.read_barcodes(page.render(scale=dpi / 72).to_pil())
            assert (found.text, found.extra["Version"], found.ec_level) == (asked.code, "1", "H")
        words = " ".join(page.get_textpage().get_text_bounded().split())
        assert words == " ".join((spaced(asked.code), asked.title, *asked.lines))
        # Symbol 21 mm wide with its left edge 4 mm in: measured in a picture of 40 dots a mm.
        dark = ImageChops.invert(
            page.render(scale=40 * 25.4 / 72).to_pil().convert("L").crop((0, 0, 1160, 1000))
        )
        assert dark.point(lambda v: 255 * (v > 127)).getbbox() == pytest.approx((160, 80, 1000, 920), abs=1)
        assert not list(page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]))


def test_pdf_same_bytes() -> None:
    """The same labels give the same bytes, and the moment handed in is the one that the PDF names."""
    labels = [label("1"), label("P")]
    assert pdf(labels) == pdf(labels)
    later = pdf(labels, made=datetime(2031, 3, 5, 12, tzinfo=UTC))
    assert pypdfium2.PdfDocument(later).get_metadata_value("CreationDate").startswith("D:20310305120000")


def text_box(asked: Label, dpi: int) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the words, measured from the label's left top corner."""
    picture = ImageChops.invert(draw(asked, dpi).convert("L"))
    start = (QUIET + MODULES) * module_dots(dpi)
    box = picture.crop((start, 0, picture.width, picture.height)).getbbox()
    assert box is not None
    return box[0] + start, box[1], box[2] + start, box[3]


HARD = (
    ("Wide Mother-of-Wide Wonderful Moulding", ("WWWWWWWWWWWWWWWWWWWWWWWWWWWWW",) * 4),
    ("ÅÄÖŃgjpq", ("gjpqy ÅÉ", "patient 2031-ABCDEFGHIJKLMNOPQRSTUVWXYZ-0001")),
    ("x", ("one line of many words that goes on and on and on until it does not fit",)),
    ("", ()),
)


# W is the widest letter of the faces, M the next.
WIDEST = "AWWMWWWWWW"


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize("n", range(len(HARD)))
def test_words_stay_on_the_label(n: int, dpi: int) -> None:
    """However long the words and wide the code, 1 mm at the edges stays white and the symbol is read."""
    asked = Label(WIDEST, *HARD[n])
    _, top, right, bottom = text_box(asked, dpi)
    edge = dpi / 25.4
    picture = draw(asked, dpi)
    assert top >= edge and right <= picture.width - edge and bottom <= picture.height - edge
    assert read(picture) == [asked.code]


def shown(asked: Label) -> str:
    """The words of a label as its PDF holds them."""
    return " ".join(pypdfium2.PdfDocument(pdf([asked]))[0].get_textpage().get_text_bounded().split())


def test_long_patient_code_is_shortened() -> None:
    """A long patient code loses its middle, not its end; the label's own code stays whole."""
    asked = Label(WIDEST, "arch", ("patient 2031-ABCDEFGHIJKLMNOPQRSTUVWXYZ-0001",))
    words = shown(asked)
    assert spaced(asked.code) in words
    assert words.count("…") == 1 and "patient 2031-" in words and words.endswith("0001")


def test_long_line_wraps_before_it_is_shortened() -> None:
    """A line of several words goes on two rows with nothing lost."""
    words = shown(Label(label("1").code, "upper jaw", ("base 1 rev B with arch 2 rev B",)))
    assert words.endswith("base 1 rev B with arch 2 rev B")


def test_too_many_lines() -> None:
    """More lines than the label holds are refused with the number that it holds, which then do fit."""
    code = label("1").code
    with pytest.raises(ValueError, match="room for ") as refusal:
        draw(Label(code, "upper jaw", ("line",) * 30))
    room = int(str(refusal.value).rsplit(" ", 1)[1])
    assert room >= 5
    full = Label(code, "upper jaw", ("line",) * room)
    for dpi in DPI:
        assert read(draw(full, dpi)) == [code]
        assert text_box(full, dpi)[3] <= draw(full, dpi).height - dpi / 25.4


@pytest.mark.parametrize("text", ["Łukasz", "Екатерина", "≤", "Ελένη", "Ñandú", "Ğüneş"])
@pytest.mark.parametrize("bold", [False, True])
def test_real_glyphs(text: str, bold: bool) -> None:
    """Every letter of these names is drawn by a glyph of its own, not by the box for what is missing."""
    box = bytes(face(bold, 40).getmask("\U0010fffd"))
    assert printable(text) == text
    assert all(bytes(face(bold, 40).getmask(letter)) != box for letter in text)


def test_what_no_glyph_draws() -> None:
    """Letters that the faces lack become the mark for that, control characters and line ends vanish."""
    assert printable("a\u4e2d\U0001f9b7\n b\x07\u200b") == f"a{NO_GLYPH}{NO_GLYPH} b"
    assert printable("Zo\u0065\u0308") == "Zo\u00eb"
    box = bytes(face(False, 40).getmask("\U0010fffd"))
    assert bytes(face(False, 40).getmask(NO_GLYPH)) != box


def test_label_beside_nothing_else() -> None:
    """A badge's label says its code, its title and its lines, and nothing more."""
    asked = label("P")
    assert shown(asked) == f"{spaced(asked.code)} badge Łukasz Żółć"


def test_refusals() -> None:
    """A code that is not whole, another dpi, and a PDF of no labels are refused in plain words."""
    with pytest.raises(CodeError, match="ten characters"):
        Label("1ABCDEFGHJ", "upper jaw", ())
    with pytest.raises(CodeError, match="ten characters"):
        Label(spaced(label("1").code), "upper jaw", ())
    with pytest.raises(ValueError, match="203 or 300"):
        draw(label("1"), 600)
    with pytest.raises(ValueError, match="at least one"):
        pdf([])


def test_finder_patterns() -> None:
    """Three finder patterns of ISO/IEC 18004 stand in three corners of 21 x 21 modules."""
    cells = symbol(label("1").code)
    assert len(cells) == len(cells[0]) == 21
    finder = ["1111111", "1000001", "1011101", "1011101", "1011101", "1000001", "1111111"]
    for x, y in ((0, 0), (14, 0), (0, 14)):
        assert ["".join("01"[cells[y + v][x + u]] for u in range(7)) for v in range(7)] == finder
