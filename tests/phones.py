"""A technician's phone: a browser that can be restarted, behind a line that can fail."""

import io
import re
import shutil
import socket
import threading
from contextlib import suppress

import pytest
from PIL import Image
from playwright.sync_api import Error as BrowserError

from tests.browser import FLAGS, PATIENCE_MS, PHONE
from tests.machines import free_port

PASSWORD = "a long enough one"  # the one that make.user sets
GPS = 0x8825


class Relay:
    """A line between phone and server on a port of its own: through, away, or deaf.

    away: every connection is closed at once, as without signal.
    deaf: what is posted to `deaf_to` reaches the server, and the answer never reaches the phone.
    """

    def __init__(self, server_port, deaf_to=b"POST /day/visits/"):
        self.server_port, self.deaf_to = server_port, deaf_to
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.mode, self.dropped, self.open = "through", 0, set()
        self.listening = socket.create_server(("127.0.0.1", self.port))
        threading.Thread(target=self._listen, daemon=True).start()

    def turn(self, mode):
        self.mode = mode
        if mode == "away":
            for one in list(self.open):
                _close(one)

    def end(self):
        self.turn("away")
        _close(self.listening)

    def _listen(self):
        while True:
            try:
                phone, _ = self.listening.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=[phone], daemon=True).start()

    def _serve(self, phone):
        server = None
        try:
            if self.mode != "away":
                server = socket.create_connection(("127.0.0.1", self.server_port), timeout=60)
                self.open |= {phone, server}
                asked = {"last": b""}
                back = threading.Thread(target=self._back, args=[server, phone, asked], daemon=True)
                back.start()
                while data := phone.recv(65_536):
                    if re.match(rb"[A-Z]+ /", data):
                        asked["last"] = data[:200]
                    server.sendall(data)
        except OSError:
            pass
        finally:
            for one in filter(None, (phone, server)):
                _close(one)
                self.open.discard(one)

    def _back(self, server, phone, asked):
        with suppress(OSError):
            while data := server.recv(65_536):
                if self.mode == "deaf" and asked["last"].startswith(self.deaf_to):
                    self.dropped += 1
                    break
                phone.sendall(data)
        _close(phone)
        _close(server)


def _close(one):
    with suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
    one.close()


class Phone:
    """A browser with a folder of its own: what it kept is there after a restart."""

    def __init__(self, browser_type, folder, url, *flags):
        self.browser_type, self.folder, self.url = browser_type, folder, url
        self.flags, self.wrong, self.context = flags, [], None
        self.start()

    def start(self):
        self.context = self.browser_type.launch_persistent_context(
            str(self.folder),
            executable_path=shutil.which("chromium"),
            args=[*FLAGS, *self.flags],
            base_url=self.url,
            **PHONE,
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.page = self.tab()

    def tab(self):
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.wrong.append(str(error)))
        page.on("console", self._note)
        return page

    def _note(self, message):
        if "Content Security Policy" in message.text:
            self.wrong.append(message.text)

    def restart(self):
        self.stop()
        self.start()

    def stop(self):
        with suppress(BrowserError):
            self.context.close()

    def sign_in(self, user, then="/day/"):
        self.page.goto(f"/accounts/login/?next={then}")
        self.page.get_by_label("Username").fill(user.username)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(f"**{then}")

    def open_day(self):
        """The day's list, until all of it is on the phone."""
        self.page.goto("/day/")
        self.page.get_by_text("All of today is on this phone.").wait_for()

    def waiting(self):
        return self.page.evaluate("outbox.all().then((all) => all.length)")

    def flush(self):
        """As the phone does by itself every half minute; what still waits."""
        self.page.evaluate("outbox.flush()")
        return self.waiting()


def photo_with_place():
    """A photo of 2,000 pixels that says where it was taken."""
    exif = Image.Exif()
    exif.get_ifd(GPS).update({1: "N", 2: (44.0, 30.0, 43.2), 3: "W", 4: (94.0, 14.0, 27.6)})
    made = io.BytesIO()
    picture = Image.linear_gradient("L").resize((2000, 1500)).convert("RGB")
    picture.save(made, "JPEG", exif=exif, quality=60)
    return {"name": "pond.jpg", "mimeType": "image/jpeg", "buffer": made.getvalue()}


@pytest.fixture
def relay(live_server):
    line = Relay(live_server.thread.port)
    yield line
    line.end()


@pytest.fixture
def new_phone(browser, tmp_path):
    """Makes phones: new_phone(url). A script that fails or breaks the policy fails the test."""
    made = []

    def make(url, *flags):
        folder = tmp_path / f"phone-{len(made)}"
        made.append(Phone(browser.browser_type, folder, url, *flags))
        return made[-1]

    yield make
    for phone in made:
        phone.stop()
    assert [wrong for phone in made for wrong in phone.wrong] == []
