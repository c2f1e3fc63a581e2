"""The sheets of the door by which tablets are set up; no Flask here, since the door is a small process of its own."""

import base64
import hashlib

import qrcode
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from jinja2 import Environment, FileSystemLoader
from qrcode.image.svg import SvgPathImage

from benchapp import paths
from benchapp.network.certificates import fingerprint
from benchapp.network.door import Sheet
from benchapp.network.place import Network
from benchapp.web.tongue import dress


def symbol(address: str) -> str:
    """Return a QR code of an address as the source of a picture."""
    code = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_M, border=4, image_factory=SvgPathImage)
    code.add_data(address)
    drawn: bytes = code.make_image().to_string()
    return f"data:image/svg+xml;base64,{base64.b64encode(drawn).decode()}"


def sheets(served: Network, authority: x509.Certificate) -> dict[str, Sheet]:
    """Return everything that the door gives: the steps in the language in use, and the authority's certificate."""
    environment = Environment(
        loader=FileSystemLoader(paths.TEMPLATES), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    dress(environment)
    style = (paths.STATIC / "css" / "network.css").read_text("utf-8")
    steps = environment.get_template("network/door.html").render(
        network=served, groups=fingerprint(authority), symbol=symbol(f"{served.origin}/"), style=style,
    )
    known = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{known}'; img-src data:; base-uri 'none'; form-action 'none'; " \
             "frame-ancestors 'none'"
    name = f"seat-and-cure-{served.name}"
    return {
        "/": Sheet("text/html; charset=utf-8", steps.encode(), (("Content-Security-Policy", policy),)),
        "/ca.crt": Sheet("application/x-x509-ca-cert", authority.public_bytes(Encoding.DER), _named(f"{name}.crt")),
        "/ca.pem": Sheet("application/x-pem-file", authority.public_bytes(Encoding.PEM), _named(f"{name}.pem")),
    }


def _named(file: str) -> tuple[tuple[str, str], ...]:
    return (("Content-Disposition", f'attachment; filename="{file}"'),)
