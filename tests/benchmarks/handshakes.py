"""The lab's network beside slow clients: what a request takes while handshakes stall and requests never end.

    python -m tests.benchmarks.handshakes [--asked 400 --stalled 100] [--out FILE]
"""

import argparse
import socket
import ssl
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from tests.benchmarks.machine import RESULTS, machine, median, met, percentile, put, say, table
from tests.network.live import NAME, LiveLan, Named

BEGUN = b"\x16\x03\x01\x02\x00\x01\x00"  # the beginning of a ClientHello
AIM_MS = 50
TURNS = 4
Slow = Callable[[LiveLan, ExitStack, int], None]


def nobody(lan: LiveLan, stack: ExitStack, count: int) -> None:
    """Hold nothing: the floor."""


def handshakes(lan: LiveLan, stack: ExitStack, count: int) -> None:
    """Begin handshakes and leave them: half of them silent, half in the middle of the first message."""
    for which in range(count):
        one = stack.enter_context(socket.create_connection(("127.0.0.1", lan.port)))
        if which % 2:
            one.sendall(BEGUN)


def requests(lan: LiveLan, stack: ExitStack, count: int) -> None:
    """Begin requests over TLS and never end their heads."""
    for _which in range(count):
        bare = socket.create_connection(("127.0.0.1", lan.port))
        safe = stack.enter_context(lan.trusting().wrap_socket(bare, server_hostname=NAME))
        safe.sendall(b"GET / HTTP/1.1\r\nHost: ")


def at_the_door(lan: LiveLan, stack: ExitStack, count: int) -> None:
    """Begin requests at the door by which tablets are set up, and never end them."""
    for _which in range(count):
        stack.enter_context(socket.create_connection(("127.0.0.1", lan.setup_port))).sendall(b"GET / HTTP/1.1\r\nHo")


SLOW: dict[str, Slow] = {
    "floor: nobody else": nobody, "{n} stalled handshakes": handshakes, "{n} requests that never end": requests,
    "{n} slow clients at the door": at_the_door,
}


@contextmanager
def kept(lan: LiveLan) -> Iterator[Named]:
    """A connection that stays open, as a tablet's."""
    connection = Named(NAME, lan.port, lan.trusting())
    connection.connect()
    yield connection
    connection.close()


def on_kept(connection: Named) -> float:
    """Return how many ms one request takes on an open connection."""
    begun = time.perf_counter()
    connection.request("GET", "/people.json")
    answer = connection.getresponse()
    answer.read()
    assert answer.status == 200, answer.status
    return (time.perf_counter() - begun) * 1000


def on_new(lan: LiveLan, trust: ssl.SSLContext) -> float:
    """Return how many ms one request takes with a connection and handshake of its own."""
    begun = time.perf_counter()
    connection = Named(NAME, lan.port, trust)
    connection.request("GET", "/people.json")
    assert connection.getresponse().read()
    connection.close()
    return (time.perf_counter() - begun) * 1000


def measure(place: Path, asked: int, stalled: int) -> str:
    """Serve the demo lab on loopback and return the section; slow clients of every kind take their turns."""
    lan = LiveLan(place / "data").fill().start()
    times: dict[str, tuple[list[float], list[float]]] = {name: ([], []) for name in SLOW}
    try:
        for turn in range(TURNS):
            for name, slow in SLOW.items():
                say(f"turn {turn + 1}: {name.format(n=stalled)}")
                with ExitStack() as stack:
                    slow(lan, stack, stalled)
                    open_one, trust = stack.enter_context(kept(lan)), lan.trusting()
                    times[name][0].extend(on_kept(open_one) for _ in range(asked // TURNS))
                    times[name][1].extend(on_new(lan, trust) for _ in range(asked // TURNS // 2))
    finally:
        lan.kill()
    return section(times, stalled)


def section(times: dict[str, tuple[list[float], list[float]]], stalled: int) -> str:
    """Return the table and the aim."""
    floor = [median(found) for found in times["floor: nobody else"]]
    rows = [
        (name.format(n=stalled), connection, f"{median(found):.1f}", f"{percentile(found, 0.95):.1f}",
         f"{max(found):.1f}", f"{median(found) / floor[at]:.2f}", len(found))
        for name, both in times.items() for at, connection in enumerate(("kept", "new")) for found in [both[at]]
    ]
    aims = []
    for at, connection in enumerate(("kept", "new")):
        alone, *beside = [percentile(both[at], 0.95) for both in times.values()]
        aims.append(f"- p95 on a {connection} connection beside slow clients within {AIM_MS} ms ({max(beside):.1f}; "
                    f"the floor itself {alone:.1f})" + met("", max(beside) <= AIM_MS))
    return "\n\n".join([
        f"{machine()}. `GET /people.json` over TLS on loopback, the real server; slow clients and floor took turns in "
        "one run. A new connection includes its handshake, on both sides on this machine.",
        table(["beside", "connection", "p50 ms", "p95 ms", "max ms", "p50 to floor", "n"], rows),
        "\n".join(aims),
    ])


def main(arguments: list[str]) -> int:
    """Measure, print the section and, if asked, put it into the results."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.handshakes", description=__doc__)
    parser.add_argument("--asked", type=int, default=400)
    parser.add_argument("--stalled", type=int, default=100)
    parser.add_argument("--out", type=Path, default=RESULTS)
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as place:
        text = measure(Path(place), given.asked, given.stalled)
    print(text)
    put("handshakes", text, given.out)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
