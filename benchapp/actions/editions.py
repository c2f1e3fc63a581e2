"""Protocols of the lab: those that come with Seat & Cure, those that it wrote, and the one new cases are worked by."""

from dataclasses import dataclass
from functools import cache, lru_cache

from benchapp import paths
from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.actions.cases import DEFAULT_PROTOCOL, checked
from benchapp.actions.desk import Seat, store
from benchapp.core import events, seal
from benchapp.core.faults import read_toml
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.protocol_words import spoken
from benchapp.core.words import _

WRITERS = ("technique-lead", "supervisor")


@dataclass(frozen=True)
class Edition:
    """One edition of a protocol: its text, whether it came with Seat & Cure, since when it was put in force last
    (UTC ms, 0 never) and by whom (a person's id), and whether new cases get it."""

    hash: str
    text: str
    protocol: Protocol
    shipped: bool
    since: int
    by: str
    in_force: bool


@cache
def _shipped() -> dict[str, str]:
    """Return the texts that come with Seat & Cure by hash, the one that new cases get first."""
    files = sorted(paths.PROTOCOLS.glob("*.toml"), key=lambda file: (file != DEFAULT_PROTOCOL, file.name))
    texts = [file.read_text(encoding="utf-8") for file in files]
    return {seal.digest(text.encode()): text for text in texts}


@lru_cache(maxsize=64)
def _read(text: str) -> Protocol:
    """Read a protocol whose sense was checked when it was taken in; rules may have grown since."""
    return read_toml("protocol", text, Protocol)


def _shown(text: str) -> Protocol:
    return spoken(_read(text))


def editions(bench: Bench) -> list[Edition]:
    """Return every edition that is known here: the one in force first, then by title and edition."""
    forced: dict[str, tuple[int, str]] = {}
    for entry in bench.store.tagged("kind", "protocol"):
        body = events.read_body(entry.body)
        forced[body["event"]["data"]["hash"]] = body["server"]["when"], body["event"]["by"]["person"]
    now = in_force(bench)[0]
    texts = dict(_shipped())
    for name in forced:
        texts.setdefault(name, (bench.store.course(name) or b"").decode())
    found = [
        Edition(name, text, _shown(text), name in _shipped(), *forced.get(name, (0, "")), text == now)
        for name, text in texts.items() if text
    ]
    return sorted(found, key=lambda e: (not e.in_force, e.protocol.title, e.protocol.edition))


def edition(bench: Bench, name: str) -> Edition:
    """Return one edition by its hash; Unknown where there is none."""
    found = next((one for one in editions(bench) if one.hash == name), None)
    if found is None:
        raise Unknown(_("There is no such edition here. Choose one of the list."))
    return found


def in_force(bench: Bench) -> tuple[str, Protocol]:
    """Return text and sense of the protocol that new cases are worked by, the sense in the language in use."""
    entry = bench.store.last_tagged("kind", "protocol")
    body = bench.store.course(events.read_body(entry.body)["event"]["data"]["hash"]) if entry else None
    text = body.decode() if body else next(iter(_shipped().values()))
    return text, spoken(checked(text))


def put_in_force(bench: Bench, seat: Seat, name: str, text: str) -> Protocol:
    """Let new cases be worked by this protocol file; cases in work keep theirs.

    Raises NotYours, FileFaults with every fault at once, and Refused when it is in force already, or when its id
    and edition are those of another text.
    """
    seat.must(*WRITERS)
    pictures = frozenset(picture.stem for picture in (paths.STATIC / "pictures").glob("*.svg"))
    protocol = read_protocol(name, text, pictures)
    for other in editions(bench):
        same = (other.protocol.id, other.protocol.edition) == (protocol.id, protocol.edition)
        if same and other.text != text:
            raise Refused(_("Edition {edition} of {protocol} is another text already. Give this one an "
                            "`edition` of its own, so that a record can say which it was.",
                            edition=protocol.edition, protocol=protocol.id))
        if other.in_force and other.text == text:
            raise Refused(_("{protocol}, edition {edition}, is in force already.",
                            protocol=spoken(protocol).title, edition=protocol.edition))
    data = {"hash": seal.digest(text.encode()), "id": protocol.id, "edition": protocol.edition}
    with bench.store.writing() as writer:
        writer.add_course(data["hash"], text.encode())
        store(bench, writer, seat, "protocol", data=data)
    return spoken(protocol)
