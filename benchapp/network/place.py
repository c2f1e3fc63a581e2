"""Where the lab's network lies in a data folder, and what `network.toml` says: name, ports, the address to listen on.

Nothing of certificates is read here, so that commands which only look for the network start without their library.
"""

from dataclasses import dataclass
from ipaddress import IPv4Address
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, Field

from benchapp.core.faults import Fault, FileFaults, Format, Written, read_toml
from benchapp.core.words import _
from benchapp.network.addresses import LOOPBACK
from benchapp.network.names import authority_of, local_name, read_name

PLACE = "network"
FILE = "network.toml"
EVERY = "0.0.0.0"


class NetworkFault(Exception):
    """The lab's network cannot be set up or served as asked; the message says why and how to mend it."""


def _name(written: str) -> str:
    name = read_name(written)
    if name != written:
        raise ValueError(_("written in another way than the certificates have it. Write {name}", name=name))
    return name


def _address(written: str) -> str:
    try:
        return str(IPv4Address(written))
    except ValueError:
        raise ValueError(_("no IPv4 address. Write 0.0.0.0, or one of the PC's addresses")) from None


class Network(Written):
    """The lab's network as `network.toml` has it."""

    format: Format = 1
    name: Annotated[str, AfterValidator(_name)] = Field(description="the PC's host name, for ever")
    port: int = Field(ge=1, le=65535, description="port of the pages, for ever")
    setup_port: int = Field(ge=1, le=65535, description="port of the page by which tablets are set up")
    bind: Annotated[str, AfterValidator(_address)] = Field(description="address to listen on; 0.0.0.0 is every one")

    @property
    def host(self) -> str:
        """Name and port as browsers write them."""
        return authority_of(self.name, self.port)

    @property
    def origin(self) -> str:
        """The one origin of all pages."""
        return f"https://{self.host}"

    @property
    def local(self) -> str:
        """The name that is published without a name server."""
        return local_name(self.name)

    @property
    def here(self) -> str:
        """The address by which this PC itself reaches the server, also when no name leads to it."""
        return f"https://{LOOPBACK if self.bind == EVERY else self.bind}:{self.port}"


@dataclass(frozen=True)
class Place:
    """The files of a data folder's network."""

    path: Path

    @property
    def file(self) -> Path:
        """Name, ports and address."""
        return self.path / FILE

    @property
    def authority(self) -> Path:
        """The certificate that tablets trust."""
        return self.path / "ca.pem"

    @property
    def authority_key(self) -> Path:
        """The key that signs."""
        return self.path / "ca.key"

    @property
    def leaf(self) -> Path:
        """The certificate that the server shows."""
        return self.path / "leaf.pem"

    @property
    def leaf_key(self) -> Path:
        """The key of the server."""
        return self.path / "leaf.key"


def place_of(data: Path) -> Place:
    """Return the files of the network of a data folder."""
    return Place(data / PLACE)


def read_network(data: Path) -> Network | None:
    """Return the network of a data folder, None when it has none; FileFaults where the file is not sound."""
    file = place_of(data).file
    if not file.exists():
        return None
    try:
        text = file.read_text("utf-8")
    except UnicodeDecodeError as error:
        fault = Fault(
            "file", _("byte {byte} is not UTF-8", byte=error.start), _("Save it as UTF-8 text")
        )
        raise FileFaults(str(file), [fault]) from None
    return read_toml(str(file), text, Network)
