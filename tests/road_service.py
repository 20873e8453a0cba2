"""A small service that speaks the table interface of OSRM on a real socket.

The real one wants a map of a country and does not run here; what it answers is held to the example
of its own documentation in tests/reference/roads.json.
"""

import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest


class RoadService:
    """Answers with 60 s and 1,000 m a hundredth of a degree of latitude and longitude together."""

    def __init__(self):
        self.asked = []  # (places, sources, destinations) of each call
        self.status, self.after_s, self.drip_s = 200, 0.0, 0.0
        self.change = lambda said: said  # what the answer becomes
        self.body = None  # sent instead of any answer
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_port}"
        threading.Thread(target=self.server.serve_forever, args=(0.01,), daemon=True).start()

    def stop(self):
        self.server.shutdown()
        self.server.server_close()

    def answer(self, path):
        parts = urlsplit(path)
        assert parts.path.startswith("/table/v1/driving/"), parts.path
        given = parse_qs(parts.query)
        assert set(given["annotations"][0].split(",")) == {"duration", "distance"}
        places = [tuple(map(float, p.split(","))) for p in parts.path.split("/")[-1].split(";")]
        every = ";".join(map(str, range(len(places))))
        sources, ends = (
            [int(n) for n in given.get(name, [every])[0].split(";")]
            for name in ("sources", "destinations")
        )
        self.asked.append((places, sources, ends))
        apart = [
            [
                100 * (abs(places[a][0] - places[b][0]) + abs(places[a][1] - places[b][1]))
                for b in ends
            ]
            for a in sources
        ]
        return {
            "code": "Ok",
            "durations": [[round(60 * x, 1) for x in row] for row in apart],
            "distances": [[round(1000 * x, 1) for x in row] for row in apart],
        }

    def _handler(service):
        class Handler(BaseHTTPRequestHandler):
            def do_GET(self):
                said = service.change(service.answer(self.path))
                body = json.dumps(said).encode() if service.body is None else service.body
                time.sleep(service.after_s)
                try:
                    self.send_response(service.status)
                    self.send_header("Content-Length", str(len(body)))
                    self.end_headers()
                    for n in range(0, len(body), 20 if service.drip_s else len(body)):
                        self.wfile.write(body[n : n + 20] if service.drip_s else body)
                        time.sleep(service.drip_s)
                except OSError:
                    pass  # whoever asked has gone

            def log_message(self, *words):
                pass

        return Handler


@pytest.fixture
def road_service():
    service = RoadService()
    yield service
    service.stop()
