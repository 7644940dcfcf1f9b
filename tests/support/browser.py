"""A real browser for the journeys: the system's Chromium, driven by Playwright.

Two things to know when writing a journey. Playwright's own ``wait_for_function`` stalls under this app's
content policy: use ``wait_until`` below. And a page in these fixtures fails its test on any console error,
refused script or style, script exception, broken static file or answer of 500 and above.
"""

import os
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import django.utils.asyncio
import pytest

PROGRAMS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    # Names other than this machine's do not resolve, so no page can fetch from elsewhere.
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1 , EXCLUDE localhost",
]

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
PATIENCE_MS = 15_000

MISSING = (
    "The browser journeys need Chromium. On Debian or Ubuntu: apt-get install chromium. Elsewhere, install"
    " Chromium or Chrome and name its program in WAREBOARD_BROWSER."
)
PICTURES = Path(__file__).resolve().parents[2] / "build" / "journeys"
failed_key = pytest.StashKey[bool]()


def find_browser() -> str | None:
    """The browser's program, or None."""
    named = os.environ.get("WAREBOARD_BROWSER")
    if named:
        return shutil.which(named)
    return next((found for name in PROGRAMS if (found := shutil.which(name))), None)


def left_out() -> bool:
    """Whether journeys are left out on request. A build machine (CI=true) never leaves them out."""
    return os.environ.get("WAREBOARD_NO_BROWSER") == "1" and os.environ.get("CI", "").lower() != "true"


@pytest.hookimpl(tryfirst=True)  # before -m chooses by the marker set here
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    journeys = [item for item in items if "browser" in getattr(item, "fixturenames", ())]
    for item in journeys:
        item.add_marker("journey")
    if journeys and left_out():
        config.hook.pytest_deselected(items=journeys)
        items[:] = [item for item in items if item not in set(journeys)]


def pytest_terminal_summary(terminalreporter: Any) -> None:
    if left_out():
        terminalreporter.write_line("WAREBOARD_NO_BROWSER=1: the browser journeys were left out.")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Any:
    report = yield
    if report.failed:
        item.stash[failed_key] = True
    return report


def _no_running_loop() -> None:
    raise RuntimeError("The loop of the browser is none of the database's concern.")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    program = find_browser()
    if program is None:
        pytest.fail(MISSING, pytrace=False)
    from playwright.sync_api import sync_playwright

    # Playwright keeps an event loop in this thread, and Django would take any query beside it for a mistake.
    # Django's own switch for that is an environment variable, which programs that tests start would inherit.
    django.utils.asyncio.get_running_loop = _no_running_loop
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield running
        running.close()


class Watch:
    """What went wrong on the pages of a test. ``expect(pattern)`` lets one kind of fault pass."""

    def __init__(self) -> None:
        self.faults: list[str] = []
        self.expected: list[str] = []

    def expect(self, pattern: str) -> None:
        self.expected.append(pattern)

    def over(self, page: Any) -> None:
        page.on("pageerror", lambda error: self._note(f"script error on {page.url}: {error}"))
        page.on("console", self._console)
        page.on("response", self._response)

    def _note(self, fault: str) -> None:
        if not any(re.search(pattern, fault) for pattern in self.expected):
            self.faults.append(fault)

    def _console(self, message: Any) -> None:
        # The answer behind "Failed to load resource" is judged in _response, where its status is known.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            self._note(f"console: {message.text} ({message.location.get('url', '')})")

    def _response(self, response: Any) -> None:
        is_static = "/static/" in response.url
        if response.status >= 500 or (is_static and response.status >= 400):
            self._note(f"{response.status} for {response.request.method} {response.url}")


@pytest.fixture
def watch() -> Watch:
    return Watch()


@pytest.fixture
def open_page(
    browser: Any, live: Any, watch: Watch, request: pytest.FixtureRequest
) -> Iterator[Callable[..., Any]]:
    """Opens pages that share nothing: ``open_page(PHONE, color_scheme="dark")``.

    Paths are relative to the app: ``page.goto("/")``. Options go to Playwright's ``new_context``.
    """
    contexts: list[Any] = []
    pages: list[Any] = []

    def make(viewport: dict[str, int], *, touch: bool = False, **options: Any) -> Any:
        context = browser.new_context(
            viewport=viewport,
            base_url=live.url,
            locale="en-GB",
            has_touch=touch,
            is_mobile=touch,
            reduced_motion="reduce",
            **options,
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        context.on("page", watch.over)
        page = context.new_page()
        pages.append(page)
        return page

    yield make
    if request.node.stash.get(failed_key, False) or watch.faults:
        _keep_pictures(pages, request.node.nodeid)
    for context in contexts:
        context.close()
    assert not watch.faults, "The browser complained:\n" + "\n".join(watch.faults)


@pytest.fixture
def phone(open_page: Callable[..., Any]) -> Any:
    """A page on a phone's screen, 390×844, worked by touch."""
    return open_page(PHONE, touch=True)


@pytest.fixture
def desk(open_page: Callable[..., Any]) -> Any:
    """A page on a desktop's screen, 1280×900."""
    return open_page(DESK)


def _keep_pictures(pages: list[Any], name: str) -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    plain = re.sub(r"[^A-Za-z0-9]+", "-", name.rpartition("/")[2]).strip("-")
    for number, page in enumerate(pages, start=1):
        try:
            page.screenshot(path=PICTURES / f"{plain}-{number}.png", full_page=True)
        except Exception as error:  # the browser itself may be what broke
            print(f"No picture of {page.url}: {error}")


def sign_in_as(page: Any, person: Any) -> None:
    """Sign a person in on a page's browser without going through the sign-in form."""
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(person)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    address = settings.SITE_URL  # where the `live` fixture serves
    page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": address}])


def wait_until(page: Any, expression: str, *, seconds: float = PATIENCE_MS / 1000) -> Any:
    """The value of a JavaScript expression once it is truthy; an error when it does not become so."""
    until = time.monotonic() + seconds
    while True:
        value = _evaluated(page, expression)
        if value:
            return value
        if time.monotonic() > until:
            raise AssertionError(f"Waited {seconds} s on {page.url} for: {expression}")
        page.wait_for_timeout(50)


def _evaluated(page: Any, expression: str) -> Any:
    from playwright.sync_api import Error

    try:
        return page.evaluate(expression)
    except Error as error:
        if "context was destroyed" not in str(error):
            raise
        return None  # between two pages


def check_fits(page: Any) -> None:
    """Nothing on the page is wider than the screen."""
    # Between two pages there is no document to measure for a moment.
    page.wait_for_load_state("load")
    wait_until(page, "document.documentElement !== null && document.readyState === 'complete'")
    wide = page.evaluate(
        """() => {
            const room = document.documentElement.clientWidth;
            if (document.documentElement.scrollWidth <= room) return [];
            return [...document.querySelectorAll('body *')]
                .filter(e => e.getBoundingClientRect().right > room + 0.5)
                .map(e => e.tagName.toLowerCase() + '.' + e.getAttribute('class')).slice(0, 8);
        }"""
    )
    assert not wide, f"Wider than the screen on {page.url}: {wide}"


def check_accessible(page: Any) -> None:
    """axe finds nothing on the page against WCAG 2.2, levels A and AA."""
    from axe_playwright_python.sync_playwright import Axe

    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    results = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}})
    found = [
        f"{violation['id']} ({violation['impact']}): {violation['help']}: "
        + "; ".join(str(node["target"]) for node in violation["nodes"][:5])
        for violation in results.response["violations"]
    ]
    assert not found, f"axe on {page.url}:\n" + "\n".join(found)


if __name__ == "__main__":
    # Asked by `make test` before anything slow.
    if left_out() or find_browser():
        sys.exit(0)
    print(MISSING)
    sys.exit(1)
