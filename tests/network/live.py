"""A lab that serves its network on loopback, and clients that trust its authority or do not."""

import http.client
import json
import os
import ssl
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.live import LiveLab, free_port

NAME = "bench.lan"
ROOT = Path(__file__).resolve().parent.parent.parent
STRANGERS = Path(__file__).with_name("strangers")


@dataclass
class LiveLan(LiveLab):
    """The demo lab served by `benchapp serve --lan` on loopback alone."""

    setup_port: int = field(default_factory=free_port)
    patience: int = 90  # it starts four processes, each fresh

    @property
    def served(self) -> list[str]:
        """How `benchapp serve` is told to serve."""
        return ["--lan", "--name", NAME, "--port", str(self.port), "--setup-port", str(self.setup_port),
                "--bind", "127.0.0.1"]

    @property
    def address(self) -> str:
        """Where the server answers its own PC."""
        return f"https://127.0.0.1:{self.port}"

    @property
    def origin(self) -> str:
        """The one origin of its pages."""
        return f"https://{NAME}:{self.port}"

    @property
    def authority(self) -> Path:
        """The certificate that tablets trust."""
        return self.data / "network" / "ca.pem"

    def trusting(self) -> ssl.SSLContext:
        """Return whom a tablet of this lab trusts."""
        return ssl.create_default_context(cafile=self.authority)

    def answers(self) -> bool:
        """Tell whether the server and its door answer now."""
        try:
            self.ask("GET", "/people.json")
            with urllib.request.urlopen(f"http://127.0.0.1:{self.setup_port}/ca.pem", timeout=5):
                return True
        except (OSError, http.client.HTTPException):
            return False

    def ask(
        self, method: str, path: str, host: str = NAME, body: Any = None, headers: dict[str, str] | None = None
    ) -> tuple[int, dict[str, str], bytes]:
        """Ask under a host name, its certificate verified for that name; return status, head and body."""
        connection = Named(host, self.port, self.trusting())
        try:
            sent = body if body is None or isinstance(body, bytes) else json.dumps(body).encode()
            connection.request(method, path, sent, {"Accept": "application/json"} | (headers or {}))
            answer = connection.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        finally:
            connection.close()


@dataclass
class LanOfTablets(LiveLan):
    """The same as tablets meet it: whoever asks under its one name is a stranger until a code enrols it.

    Browsers of a test run on the PC itself, where that name would count as the PC's own; `localhost` still does.
    """

    @property
    def address(self) -> str:
        """Where tablets find the PC."""
        return self.origin

    @property
    def surroundings(self) -> dict[str, str]:
        """Which variables the server finds beside this process's own."""
        return {"PYTHONPATH": os.pathsep.join([str(STRANGERS), str(ROOT)])}


class Named(http.client.HTTPSConnection):
    """A connection to loopback that asks for, and verifies, another name."""

    def __init__(self, name: str, port: int, trust: ssl.SSLContext, timeout: float = 30) -> None:
        super().__init__(name, port, context=trust, timeout=timeout)
        self._create_connection = lambda address, *rest: _to_loopback(address[1], *rest)


def _to_loopback(port: int, *rest: Any) -> Any:
    import socket

    return socket.create_connection(("127.0.0.1", port), *rest)
