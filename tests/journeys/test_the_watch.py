"""The pages that journeys are driven on notice what a person in front of them would."""

from collections.abc import Callable
from typing import Any

import pytest

from tests.support.browser import DESK, PHONE, Watch, wait_until

#: An answer with every header of the app and nothing else on it.
BARE = "/health/"


@pytest.fixture(autouse=True)
def _no_mail_worker_runs_here(watch: Watch) -> None:
    watch.expect(f"503 for GET .*{BARE}")


def test_the_screens_are_the_promised_size(phone: Any, desk: Any) -> None:
    for page, size in ((phone, PHONE), (desk, DESK)):
        page.goto(BARE)
        assert page.evaluate("[screen.width, screen.height]") == [size["width"], size["height"]]


@pytest.mark.parametrize(
    ("provoke", "complaint"),
    [
        ("console.error('the shelf is bare')", "the shelf is bare"),
        ("setTimeout(() => { throw new Error('a crack') })", "a crack"),
        (
            "document.body.append(Object.assign(document.createElement('script'), {textContent: '1'}))",
            "Content Security Policy",
        ),
        ("document.body.setAttribute('style', 'color: red')", "Content Security Policy"),
        ("fetch('/static/no-such.js')", "no-such.js"),
    ],
)
def test_a_fault_on_a_page_is_noticed(desk: Any, watch: Watch, provoke: str, complaint: str) -> None:
    desk.goto(BARE)
    assert watch.faults == []
    desk.evaluate(f"() => {{ {provoke} }}")
    for _ in range(100):
        if watch.faults:
            break
        desk.wait_for_timeout(50)
    assert complaint in "\n".join(watch.faults)
    watch.faults.clear()


def test_an_expected_fault_may_pass(desk: Any, watch: Watch) -> None:
    watch.expect("the shelf is bare")
    desk.goto(BARE)
    desk.evaluate("console.error('the shelf is bare')")
    desk.wait_for_timeout(200)


def test_waiting_works_under_the_content_policy(desk: Any) -> None:
    desk.goto(BARE)
    desk.evaluate("() => { setTimeout(() => { document.title = 'later' }, 100) }")
    wait_until(desk, "document.title === 'later'")


def test_pages_share_no_session(open_page: Callable[..., Any]) -> None:
    one, other = open_page(PHONE), open_page(PHONE)
    one.goto(BARE)
    one.context.add_cookies([{"name": "kiln", "value": "one", "url": one.url}])
    other.goto(BARE)
    assert other.evaluate("document.cookie") == ""
    assert "kiln=one" in one.evaluate("document.cookie")
