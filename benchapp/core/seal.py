"""The chain that seals the journal, and the ids that follow from content: SHA-256 (FIPS 180-4) in hex."""

import hashlib
import json


def digest(body: bytes) -> str:
    """Return the SHA-256 of `body` as 64 hex digits (FIPS 180-4)."""
    return hashlib.sha256(body).hexdigest()


def first_link(lab_id: str) -> str:
    """Return the link before a lab's first entry, so that no two labs' chains can be exchanged."""
    return digest(lab_id.encode())


def link(prev_hash: str, body: bytes) -> str:
    """Return the hash of an entry: SHA-256 over the previous hash's 64 ASCII digits and the stored bytes."""
    return digest(prev_hash.encode("ascii") + body)


def text_id(salt: bytes, text: str) -> str:
    """Return the id under which an event names a text; it tells nothing once salt and text are gone."""
    return digest(salt + text.encode())


def names(body: bytes) -> tuple[str, int]:
    """Return the event id and the sequence number that a stored body gives itself.

    Raises ValueError, which says what is wrong, when the bytes are not such a body.
    """
    try:
        tree = json.loads(body.decode("utf-8"))
        event_id, seq = tree["event"]["id"], tree["server"]["seq"]
    except RecursionError:
        raise ValueError("it is nested too deeply to be read") from None
    except UnicodeDecodeError:
        raise ValueError("it is not UTF-8") from None
    except ValueError:
        raise ValueError("it is not JSON") from None
    except (KeyError, TypeError, IndexError):
        raise ValueError("it lacks event.id or server.seq") from None
    if type(event_id) is not str:
        raise ValueError("event.id is not a text")
    if type(seq) is not int:
        raise ValueError("server.seq is not a whole number")
    return event_id, seq
