"""A small server on loopback whose answers a test decides."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass(frozen=True, slots=True)
class Asked:
    """One request as it came."""

    path: str
    headers: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Told:
    """One answer."""

    status: int = 200
    content: bytes = b"{}"
    headers: Mapping[str, str] = field(default_factory=lambda: {"Content-Type": "application/json"})


Answering = Callable[[Asked], Told]


@contextmanager
def loopback(answer: Answering) -> Iterator[str]:
    """Serve for the length of a block; gives the address without a slash at its end."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            headers = {name.lower(): value for name, value in self.headers.items()}
            told = answer(Asked(self.path, headers))
            self.send_response(told.status)
            for name, value in told.headers.items():
                self.send_header(name, value)
            if told.status != 304:
                self.send_header("Content-Length", str(len(told.content)))
            self.end_headers()
            if told.status != 304:
                self.wfile.write(told.content)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
