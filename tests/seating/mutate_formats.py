"""OBJ and 3MF files of parts, spoilt in every way, as text, as XML and as package."""

import io
import re
import zipfile
from collections.abc import Callable

import numpy as np

from tests.seating.other_formats import in_components, obj, package, threemf
from tests.seating.shapes import Floats

Rng = np.random.Generator
Change = Callable[[bytes, Rng], bytes]
WORDS = (b"nan", b"inf", b"-1", b"0", b"1e999", b"1e38", b"99999999", b"9" * 30, b"x", b"", b"1.5", b"\xff", b"-",
         b"&a;")  # fmt: skip


def texts(one: Floats, rng: Rng) -> bytes:
    """Return an OBJ of one of the kinds."""
    return obj(one, str(rng.choice(["{0}", "{0}/{0}/{0}", "{0}//{0}"])), bool(rng.random() < 0.3))


def models(one: Floats, rng: Rng) -> bytes:
    """Return the XML of a 3MF of one of the kinds."""
    whole = threemf(one, "inch", 25.4) if rng.random() < 0.3 else in_components(one)
    return zipfile.ZipFile(io.BytesIO(whole)).read("3D/3dmodel.model")


def cut(data: bytes, rng: Rng) -> bytes:
    """Cut a file off."""
    return data[: int(rng.integers(0, len(data)))]


def changed(data: bytes, rng: Rng) -> bytes:
    """Change some bytes anywhere."""
    found = bytearray(data)
    for at in rng.integers(0, len(found), int(rng.integers(1, 20))):
        found[at] = int(rng.integers(0, 256))
    return bytes(found)


def ends_changed(data: bytes, rng: Rng) -> bytes:
    """Change some of the first and last bytes, where a package says what it holds."""
    found = bytearray(data)
    for at in rng.integers(-400, 100, int(rng.integers(1, 8))):
        found[at % len(found)] = int(rng.integers(0, 256))
    return bytes(found)


def words(data: bytes, rng: Rng) -> bytes:
    """Put what is no such number in the place of some numbers."""
    places = list(re.finditer(rb"[-\d.]+(e[-+]?\d+)?", data))
    for at in sorted(rng.integers(0, len(places), int(rng.integers(1, 6))), reverse=True):
        data = data[: places[at].start()] + WORDS[int(rng.integers(0, len(WORDS)))] + data[places[at].end() :]
    return data


def pieces(data: bytes, rng: Rng) -> bytes:
    """Lose, double, swap or move some lines or elements."""
    found = re.split(rb"(?<=[\n>])", data)
    for _n in range(int(rng.integers(1, 5))):
        start, other = (int(at) for at in rng.integers(0, len(found), 2))
        some = found[start : start + int(rng.integers(1, 1 + len(found) // 3 if rng.random() < 0.3 else 4))]
        if rng.random() < 0.5:
            del found[start : start + len(some)]
        if rng.random() < 0.6:
            found[other:other] = some
    return b"".join(found)


def names(data: bytes, rng: Rng) -> bytes:
    """Change names of elements or attributes, units, ids and transforms."""
    old = (b"vertex", b"triangle", b"mesh", b"object", b"objectid", b"build", b"item", b"component",
           b"transform", b"model", b"inch", b"v1=", b"x=", b'"1"', b'"4"', b'"7"', b"resources", b"xmlns",
           b"<?xml", b"UTF-8")  # fmt: skip
    new = (*old, b"", b"path", b"<!DOCTYPE a>", b"UTF-16", b"unit", b"requiredextensions")
    for _n in range(int(rng.integers(1, 4))):
        places = list(re.finditer(re.escape(old[int(rng.integers(0, len(old)))]), data))
        if places:
            at = places[int(rng.integers(0, min(len(places), 9)))]
            data = data[: at.start()] + new[int(rng.integers(0, len(new)))] + data[at.end() :]
    return data


def of_obj(change: Change) -> Callable[[Floats, Rng], bytes]:
    """Return what spoils the text of an OBJ."""
    return lambda one, rng: change(texts(one, rng), rng)


def of_model(change: Change) -> Callable[[Floats, Rng], bytes]:
    """Return what spoils the XML within a sound package."""
    return lambda one, rng: package(change(models(one, rng), rng))


def of_package(change: Change) -> Callable[[Floats, Rng], bytes]:
    """Return what spoils the package."""
    return lambda one, rng: change(package(models(one, rng)), rng)


WAYS: dict[str, Callable[[Floats, Rng], bytes]] = {
    "OBJ, cut off": of_obj(cut), "OBJ, bytes changed": of_obj(changed), "OBJ, no numbers": of_obj(words),
    "OBJ, lines lost or twice": of_obj(pieces), "3MF package, cut off": of_package(cut),
    "3MF package, bytes changed": of_package(changed), "3MF package, ends changed": of_package(ends_changed),
    "3MF model, cut off": of_model(cut), "3MF model, bytes changed": of_model(changed),
    "3MF model, no numbers": of_model(words), "3MF model, elements lost or twice": of_model(pieces),
    "3MF model, names changed": of_model(names),
}  # fmt: skip
