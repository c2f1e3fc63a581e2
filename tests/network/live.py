"""A lab that serves its network on loopback, and clients that trust its authority or do not."""

import http.client
import json
import ssl
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.live import LiveLab, free_port

NAME = "bench.lan"


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
            sent = None if body is None else json.dumps(body).encode()
            connection.request(method, path, sent, {"Accept": "application/json"} | (headers or {}))
            answer = connection.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        finally:
            connection.close()


class Named(http.client.HTTPSConnection):
    """A connection to loopback that asks for, and verifies, another name."""

    def __init__(self, name: str, port: int, trust: ssl.SSLContext, timeout: float = 30) -> None:
        super().__init__(name, port, context=trust, timeout=timeout)
        self._create_connection = lambda address, *rest: _to_loopback(address[1], *rest)


def _to_loopback(port: int, *rest: Any) -> Any:
    import socket

    return socket.create_connection(("127.0.0.1", port), *rest)
