"""A real Chromium from Debian's package. Missing here is a plain skip; in CI a failure."""

import os
from pathlib import Path

import pytest
from playwright.sync_api import expect

CHROMIUM = next(
    (p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).exists()), ""
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# Milliseconds to wait for what must come: two suites and their servers share two cores in CI.
PATIENCE = 30_000
expect.set_options(timeout=PATIENCE)
PASSWORD = "correct horse battery"


@pytest.fixture(scope="session")
def browser_type_launch_args():
    if not CHROMIUM:
        words = "Chromium is not installed (Debian: apt-get install chromium)."
        if os.environ.get("CI") == "true":
            pytest.fail(words)
        pytest.skip(words)
    return {"executable_path": CHROMIUM, "args": FLAGS}


@pytest.fixture(autouse=True)
def nothing_stays_open(browser):
    """A window left open goes on asking the server, and its answers are drawn amid later tests."""
    yield
    assert browser.contexts == [], "open windows with ``new_context``, which closes them"


@pytest.fixture
def clinic(transactional_db):
    """A site with a class today and two days on, and one person of each role who can sign in."""
    from datetime import time

    from django.contrib.auth.hashers import make_password

    from tests.conftest import ROLES
    from tests.factories.enrolment import ClassSlotFactory
    from tests.factories.staff import SiteFactory, UserFactory

    site = SiteFactory(name="Saltmarsh Lane", timezone="UTC")
    for days in (0, 2, 4):
        weekday = (site.today().weekday() + days) % 7
        ClassSlotFactory(site=site, weekday=weekday, starts_at=time(9))
    hashed = make_password(PASSWORD)
    for role in ROLES:
        UserFactory(username=role, role=role, sites=[site], password=hashed)
    return site


class Desk:
    """One browser window that signs in as different people and watches for trouble."""

    def __init__(self, page, address):
        self.page, self.address = page, address
        self.trouble = []
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.trouble.append(str(error)))
        page.on("request", self._request)
        page.on("response", self._response)

    def _console(self, message):
        if message.type in {"error", "warning"}:
            self.trouble.append(message.text)

    def _request(self, request):
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.trouble.append(f"left the machine: {request.url}")

    def _response(self, response):
        if response.status >= 500:
            self.trouble.append(f"{response.status} {response.url}")

    def sign_in(self, name):
        self.page.context.clear_cookies()
        self.go("/login/")
        self.page.get_by_label("Username").fill(name)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(lambda url: "/login/" not in url)

    def check_in(self, key=None):
        """Check the next person of the class in, or the one asked for, and open their sheet."""
        if key is None:
            key = self.page.locator("tbody[data-state=expected]").first.get_attribute("data-row")
        line = self.page.locator(f"tbody[data-row='{key}']")
        line.locator("button[value=arrive]").click()
        line.get_by_role("link", name="Open").click()
        self.page.locator("#sheet").wait_for()
        self.page.wait_for_load_state()  # the scripts that keep what is typed run

    def go(self, path):
        return self.page.goto(self.address + path)


@pytest.fixture
def desk(page, live_server, clinic):
    found = Desk(page, live_server.url)
    page.set_default_timeout(PATIENCE)
    yield found
    assert found.trouble == []
