"""A tablet without a page: one kept connection, one token, and facts that are legal one after another."""

import json
import socket
import ssl
import time
import uuid
from collections.abc import Iterable
from typing import Any

from tests.benchmarks.bulk import DAY, Fresh, Template
from tests.benchmarks.floor import HTTP, read_answer

PIN = "2468"  # of the demo lab's first person


class Tablet:
    """A tablet of the server at 127.0.0.1:`port` with a token of its own and one person signed in.

    It speaks TLS where it is told whom to `trust`, and asks as a browser on the PC itself does. Its facts happened in
    its own past, so that every floor of the protocol has run out without a wait.
    """

    def __init__(self, port: int, template: Template, trust: ssl.SSLContext | None = None) -> None:
        self.trust = trust
        self.template, self.t = template, time.time_ns() // 1_000_000 - 1000 * DAY
        self.host = f"localhost:{port}"
        self.port, self.cookie = port, ""
        self.connect()
        head, _ = self.ask(self.request("GET", "/"))
        self.cookie = head.split("tablet=", 1)[1].split(";", 1)[0]
        body = {"person": template.person, "pin": PIN}
        _, answer = self.ask(self.request("POST", "/signin", json.dumps(body).encode()))
        self.by = {"person": template.person, "how": "pin", "signin": json.loads(answer)["signin"]}

    def connect(self) -> None:
        """Connect anew: a server closes connections that were idle for half a minute."""
        self.socket = socket.create_connection(("127.0.0.1", self.port))
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if self.trust:
            self.socket = self.trust.wrap_socket(self.socket, server_hostname="localhost")

    def request(self, method: str, path: str, body: bytes = b"") -> bytes:
        """Return the bytes of a request as the page would send it."""
        lines = [
            f"{method} {path} HTTP/1.1", f"Host: {self.host}",
            f"Origin: http{'s' if self.trust else ''}://{self.host}",
            "Sec-Fetch-Site: same-origin", "Accept: application/json", "Content-Type: application/json",
            f"Content-Length: {len(body)}", *([f"Cookie: tablet={self.cookie}"] if self.cookie else []), "", "",
        ]
        return "\r\n".join(lines).encode() + body

    def ask(self, request: bytes) -> tuple[str, bytes]:
        """Send one request; return head and body of the answer, which must have status 200."""
        self.socket.sendall(request)
        head, body = read_answer(self.socket)
        assert head.startswith(f"{HTTP} 200"), (head, body[:400])
        return head, body

    def facts_of(self, jaw: Fresh) -> list[dict[str, Any]]:
        """Return all confirmations of a jaw that is still untouched, in their order."""
        began = self.t
        facts = [
            self.template.fact(n, jaw.code, jaw.case, jaw.parts, self.by, began, str(uuid.uuid4()))
            for n in range(len(self.template.walk))
        ]
        self.t = facts[-1]["at"]["wall"]
        return facts

    def confirmations(self, jaws: Iterable[Fresh]) -> list[bytes]:
        """Return ready requests of one fact each that take these jaws from their first step to their last."""
        self.close()
        self.connect()
        return [
            self.request("POST", "/outbox/1", json.dumps([fact]).encode())
            for jaw in jaws for fact in self.facts_of(jaw)
        ]

    def work(self, requests: list[bytes]) -> tuple[list[float], list[bytes]]:
        """Send one after another; return the seconds that each took, and the answers' bodies."""
        seconds, answers = [], []
        for request in requests:
            began = time.perf_counter()
            answers.append(self.ask(request)[1])
            seconds.append(time.perf_counter() - began)
        return seconds, answers

    def close(self) -> None:
        """End the connection."""
        self.socket.close()


def must_be_stored(answers: Iterable[bytes]) -> None:
    """Raise AssertionError unless every fact was stored as new and without a mark: the jaws really moved on."""
    for answer in answers:
        for ack in json.loads(answer)["acks"]:
            assert ack["was"] == "stored" and ack["marks"] == [], ack
