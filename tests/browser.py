"""Debian's Chromium, driven by Playwright, talking to this machine and to nobody else."""

import os
import shutil

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import expect, sync_playwright

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
]
PATIENCE_MS = 30_000  # on a machine with much else to do; a good page answers at once
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@pytest.fixture(scope="session")
def browser(need):
    chromium = need("chromium", shutil.which("chromium"), "no chromium on this machine")
    # Playwright keeps an event loop on this thread, in which Django would refuse the database.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def new_page(browser, live_server):
    """Makes pages, each with cookies of its own: new_page(), new_page(**PHONE).

    A page that breaks the content policy, or whose script fails, fails the test.
    """
    contexts, wrong = [], []

    def note(message):
        if "Content Security Policy" in message.text:
            wrong.append(message.text)

    def make(**options):
        context = browser.new_context(base_url=live_server.url, **options)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("console", note)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        return page

    yield make
    for context in contexts:
        context.close()
    assert wrong == []


@pytest.fixture
def page(new_page):
    return new_page()


@pytest.fixture
def phone_page(new_page):
    return new_page(**PHONE)


@pytest.fixture
def sign_in(live_server):
    """Sign a user in on a page, past the form: sign_in(page, user)."""

    def sign_in(page, user):
        client = Client()
        client.force_login(user)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        page.context.add_cookies(
            [{"name": cookie.key, "value": cookie.value, "url": live_server.url}]
        )

    return sign_in
