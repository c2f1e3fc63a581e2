"""What others wrote and travels with us: each file is byte for byte the one that was looked at, with its licence."""

import hashlib
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from benchapp import paths
from tests.web.clients import asked

VENDOR = paths.STATIC / "vendor"
# Of the packages of that name and version on npm: htmx.org dist/htmx.min.js, idb build/index.js,
# zxing-wasm dist/iife/reader/index.js and dist/reader/zxing_reader.wasm. Of three what `THREE` names, in one file: its
# modules name each other as no browser finds them; with three 0.187.0 and esbuild 0.28.2 installed beside each other,
# `echo "$THREE" | esbuild --bundle --minify --format=esm --legal-comments=none "--banner:js=$BANNER"` writes it byte
# for byte. Its notice is a comment of the kind that the PC keeps when it packs scripts.
BANNER = "/*! three.js 0.187.0, © 2010-2026 three.js authors, MIT: LICENSE-three.txt */"
THREE = (
    "export { CanvasTexture, Color, DoubleSide, Float32BufferAttribute, Group, Mesh, PerspectiveCamera, "
    "SRGBColorSpace, Scene, ShaderMaterial, Sprite, SpriteMaterial, Vector3, WebGLRenderer } from \"three\"; "
    "export { OrbitControls } from \"three/examples/jsm/controls/OrbitControls.js\"; "
    "export { GLTFLoader } from \"three/examples/jsm/loaders/GLTFLoader.js\";"
)
SUMS = {
    "htmx-2.0.11.js": "d6fdc75f204e6bdefa99b69bf1e6d4ac69b8a364f77929f45c13476b4000f717",
    "idb-8.0.4.js": "e01b45d2e088a7197e8b41ba9b51a0876969da67cc08e6efbc3d5d7ab6ac836c",
    "three-0.187.0.js": "701156c8976fa7c8c505797e1b509d63f8414cd8b09f36938f2969652a7fdff5",
    "zxing-reader-3.1.4.js": "d33d09ce132a692faffbed0dce656c36cb2573b4b843885a6e036390d1071d95",
    "zxing-reader-3.1.4.wasm": "e8af31edb56d0522f4de74495839385ef019ba8bc90d38e5ecb2f18795d86fb2",
}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    """A tablet of a lab."""
    with asked(tmp_path_factory.mktemp("lab") / "data") as (client, _):
        yield client


def test_each_file_is_the_one_that_was_looked_at() -> None:
    """No file came in, went, or changed by a byte."""
    found = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in VENDOR.iterdir()
             if not path.name.startswith("LICENSE-")}
    assert found == SUMS


def test_each_library_brings_its_licence() -> None:
    """Beside each library lies a licence of its name that grants its use."""
    for name in SUMS:
        library = re.split(r"-\d", name)[0]
        text = (VENDOR / f"LICENSE-{library}.txt").read_text("utf-8")
        assert "Permission" in text and len(text) > 500, name
    assert "Apache License" in (VENDOR / "LICENSE-zxing-reader.txt").read_text("utf-8")


def test_what_draws_names_what_its_scripts_take() -> None:
    """The scripts that draw import from it nothing but what it was made to hand out, and it begins with its notice."""
    assert (VENDOR / "three-0.187.0.js").read_text("utf-8").startswith(BANNER)
    for name in ("solid.js", "bands.js"):
        script = (paths.STATIC / "js" / name).read_text("utf-8")
        ((taken, file),) = re.findall(r'import \{([^}]*)\} from "/static/vendor/([\w.-]+)"', script)
        assert file in SUMS and {one.strip() for one in taken.split(",")} - {""} <= set(re.findall(r"\w+", THREE)), name


def test_no_tablet_is_made_to_fetch_what_reads_or_draws_pictures(client: FlaskClient) -> None:
    """The worker keeps what reads and draws pictures once it was used; at install it asks for neither of them."""
    script = client.get("/sw.js").text
    at_once, when_used = (json.loads(re.findall(rf"const {name} = (\[.*?\]);", script)[0])
                          for name in ("FILES", "WHEN_USED"))
    assert [Path(name).name for name in when_used] == [
        "three-0.187.0.js", "zxing-reader-3.1.4.js", "zxing-reader-3.1.4.wasm"]
    assert not [name for name in at_once if "zxing" in name or "three" in name or "LICENSE" in name]
    assert {"/static/js/camera.js", "/static/js/finder.js", "/static/js/camera-worker.js"} <= set(at_once)
    assert {"/static/js/seating.js", "/static/js/solid.js", "/static/js/bands.js"} <= set(at_once)
    size = sum((paths.STATIC / name.removeprefix("/static/")).stat().st_size for name in at_once)
    assert size < 300_000


def test_the_reader_comes_packed_and_named_as_what_it_is(client: FlaskClient) -> None:
    """Browsers compile it while it comes only under its own media type (WebAssembly Web API, section 5)."""
    answer = client.get("/static/vendor/zxing-reader-3.1.4.wasm", headers={"Accept-Encoding": "gzip"}, buffered=True)
    assert answer.mimetype == "application/wasm" and answer.headers["Content-Encoding"] == "gzip"
    assert len(answer.data) < 450_000
