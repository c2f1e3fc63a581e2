"""What a tablet is told of the app: manifest and icons, by the W3C's Web Application Manifest."""

import io
import math
from collections.abc import Iterator

import pytest
from PIL import Image, ImageChops, ImageStat

from tests.web.desks import Desk, desk

SAFE = 0.4  # of the edge: radius of the circle in which all that matters of a maskable icon lies (W3C, "safe zone")
GROUND = (0x16, 0x30, 0x2B)
FAINT = 8  # of 255: what rounding of the ground's own edge leaves


@pytest.fixture(scope="module")
def at(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """An application whose files can be asked for."""
    with desk(tmp_path_factory.mktemp("app") / "data") as found:
        yield found


def icons(at: Desk) -> dict[str, Image.Image]:
    """Return the PNG icons of the manifest by purpose and size."""
    found = {}
    for icon in at.client.get("/manifest.webmanifest").get_json()["icons"]:
        with at.client.get(icon["src"]) as answer:
            assert (answer.status_code, answer.mimetype) == (200, icon["type"])
            if icon["type"] == "image/png":
                found[f"{icon['purpose']} {icon['sizes']}"] = Image.open(io.BytesIO(answer.data)).convert("RGBA")
    return found


def test_the_manifest_names_one_app(at: Desk) -> None:
    """One id and one scope for every page, so that no address is a second app; its language; no browser's frame."""
    answer = at.client.get("/manifest.webmanifest")
    plain = answer.get_json()
    assert answer.mimetype == "application/manifest+json"
    assert (plain["id"], plain["scope"], plain["start_url"], plain["display"]) == ("/", "/", "/", "standalone")
    assert plain["lang"] == "en"
    assert 'rel="manifest"' in at.get("/") and 'rel="apple-touch-icon"' in at.get("/")


def test_icons_have_the_sizes_that_are_said(at: Desk) -> None:
    """192 and 512 px and a maskable one, each as large as the manifest says, all of one drawing."""
    found = icons(at)
    assert {name: image.size for name, image in found.items()} == {
        "any 192x192": (192, 192), "any 512x512": (512, 512), "maskable 512x512": (512, 512)}
    large = found["any 512x512"].resize((192, 192), Image.Resampling.BOX)
    apart = ImageStat.Stat(ImageChops.difference(large, found["any 192x192"])).mean
    assert max(apart) < 6, apart


def test_a_tablet_may_cut_the_maskable_icon(at: Desk) -> None:
    """It has no transparent pixel, and everything that is drawn lies within the safe circle."""
    image = icons(at)["maskable 512x512"]
    edge = image.size[0]
    assert image.getextrema()[3] == (255, 255)
    apart = ImageChops.difference(image.convert("RGB"), Image.new("RGB", image.size, GROUND))
    drawn = [
        math.dist((x + 0.5, y + 0.5), (edge / 2, edge / 2)) / edge
        for y in range(edge) for x in range(edge) if max(apart.getpixel((x, y))) > FAINT
    ]
    assert len(drawn) > 5000 and max(drawn) <= SAFE


def test_icons_are_not_kept_for_the_time_without_the_pc(at: Desk) -> None:
    """The worker keeps the drawings and the first pages, not the icons, which the tablet took when it was installed."""
    script = at.client.get("/sw.js").text
    assert "/static/pictures/app.svg" in script and ".png" not in script
    assert all(f"/static/js/{name}" in script for name in ("tablet.js", "ring.js", "before.js"))
