"""A proxy of our own on loopback that stands between tablet and server and spoils what passes, as networks do."""

import http.client
import socket
import threading
from collections import Counter
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType

PASS = "pass"
FAULTS = ("drop-before", "drop-after", "503", "half", "delay", "duplicate", "foreign")
FOREIGN = b"<!doctype html><title>Guest network</title><p>Welcome! Accept the terms to go online.</p>"
HOPS = ("connection", "keep-alive", "transfer-encoding", "content-length")
Choose = Callable[[str, str], str]


def to_outbox(fault: str) -> Choose:
    """Return a plan that does one fault to every delivery of facts and lets everything else pass."""
    return lambda method, path: fault if method == "POST" and path.startswith("/outbox/") else PASS


def passing(method: str, path: str) -> str:
    """The plan without faults."""
    return PASS


class FaultProxy(ThreadingHTTPServer):
    """Forwards HTTP/1.1 to `port`; `plan(method, path)` names what is done to each request (see FAULTS).

    Every answer ends its connection, so that the browser does not send anything again by itself.
    `injected` counts the faults; an answer under "delay" is held for `hold` seconds or until `released` is set.
    """

    daemon_threads = True
    request_queue_size = 64

    def __init__(self, port: int, plan: Choose = passing) -> None:
        super().__init__(("127.0.0.1", 0), _Passage)
        self.behind, self.plan, self.hold = port, plan, 0.3
        self.injected: Counter[str] = Counter()
        self.released = threading.Event()
        threading.Thread(target=self.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()

    @property
    def address(self) -> str:
        """Where the tablets find the lab's PC, seemingly."""
        return f"http://127.0.0.1:{self.server_address[1]}"

    def handle_error(self, request: object, client_address: object) -> None:
        """A browser that goes away in the middle is nothing to report."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        self.released.set()
        self.shutdown()
        self.server_close()


class _Passage(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: FaultProxy

    def _pass(self) -> None:
        self.close_connection = True
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        fault = self.server.plan(self.command, self.path)
        if fault != PASS:
            self.server.injected[fault] += 1
        if fault == "drop-before":
            return self._cut()
        if fault == "503":
            return self._answer(503, [("Content-Type", "text/plain")], b"Service unavailable")
        if fault == "foreign":
            return self._answer(200, [("Content-Type", "text/html")], FOREIGN)
        try:
            status, headers, answer = self._ask(body)
            if fault == "duplicate":
                status, headers, answer = self._ask(body)
        except (OSError, http.client.HTTPException):
            return self._cut()
        if fault == "drop-after":
            return self._cut()
        if fault == "delay":
            self.server.released.wait(self.server.hold)
        self._answer(status, headers, answer, len(answer) // 2 if fault == "half" else len(answer))

    do_GET = do_POST = do_HEAD = _pass

    def _ask(self, body: bytes) -> tuple[int, list[tuple[str, str]], bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.server.behind, timeout=60)
        try:
            headers = {k: v for k, v in self.headers.items() if k.lower() not in HOPS}
            connection.request(self.command, self.path, body or None, headers)
            answer = connection.getresponse()
            return answer.status, answer.getheaders(), answer.read()
        finally:
            connection.close()

    def _answer(self, status: int, headers: list[tuple[str, str]], body: bytes, most: int | None = None) -> None:
        self.send_response_only(status)
        for name, value in headers:
            if name.lower() not in HOPS:
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(body[:most])

    def _cut(self) -> None:
        self.connection.shutdown(socket.SHUT_RDWR)

    def log_message(self, *_: object) -> None:
        """Say nothing: what was done is counted."""
