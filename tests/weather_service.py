"""A small service that speaks the daily forecast of Open-Meteo on a real socket.

The real one wants the models of weather offices and does not run here; the shape of its answer is
that of its own documentation (a `daily` object with `time` and one list for each value asked for).
"""

import json
import threading
import time
from datetime import date, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest


class WeatherService:
    """Answers for some days before `today` and after it, each with -6 and -2 degC."""

    def __init__(self):
        self.asked, self.status, self.after_s = [], 200, 0.0
        self.today = date(2026, 11, 25)
        self.change = lambda said: said
        self.body = None
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_port}/v1/forecast"
        threading.Thread(target=self.server.serve_forever, args=(0.01,), daemon=True).start()

    def stop(self):
        self.server.shutdown()
        self.server.server_close()

    def answer(self, path):
        parts = urlsplit(path)
        assert parts.path == "/v1/forecast", parts.path
        asked = {name: values[0] for name, values in parse_qs(parts.query).items()}
        self.asked.append(asked)
        assert set(asked["daily"].split(",")) == {"temperature_2m_min", "temperature_2m_max"}
        first = self.today - timedelta(days=int(asked["past_days"]))
        count = int(asked["past_days"]) + int(asked["forecast_days"])
        return {
            "latitude": float(asked["latitude"]),
            "longitude": float(asked["longitude"]),
            "daily_units": {"time": "iso8601", "temperature_2m_max": "°C"},
            "daily": {
                "time": [(first + timedelta(days=n)).isoformat() for n in range(count)],
                "temperature_2m_min": [-6.0] * count,
                "temperature_2m_max": [-2.0] * count,
            },
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
                    self.wfile.write(body)
                except OSError:
                    pass  # whoever asked has gone

            def log_message(self, *words):
                pass

        return Handler


@pytest.fixture
def weather_service():
    service = WeatherService()
    yield service
    service.stop()
