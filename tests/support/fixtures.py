"""Fixtures that any test may ask for; the browser has its own file."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support import smtp


@pytest.fixture(autouse=True)
def _nothing_left_over(request: pytest.FixtureRequest) -> Iterator[None]:
    """A test that touches the database has photos and cached counts of its own."""
    if not {"db", "transactional_db", "live_server"} & set(request.fixturenames) and not (
        request.node.get_closest_marker("django_db")
    ):
        yield
        return
    from django.core.cache import cache

    settings = request.getfixturevalue("settings")
    photos: Path = request.getfixturevalue("tmp_path") / "photos"
    photos.mkdir()
    settings.MEDIA_ROOT = photos
    cache.clear()
    yield
    cache.clear()


@pytest.fixture(autouse=True)
def signed_in_by_a_test() -> Iterator[None]:
    """`force_login` passes the sign-in page by, which notes the device; so that is done here, as a browser
    would have it. Else the first page of each test would cost a few questions more than all others."""
    from django.contrib.auth.signals import user_logged_in

    from studio.actions.devices import note_device

    def note(sender: object, request: Any, user: Any, **more: object) -> None:
        if not request.session.session_key:
            request.session.save()
        note_device(person=user, session_key=request.session.session_key, user_agent="")

    user_logged_in.connect(note, weak=False, dispatch_uid="tests")
    yield
    user_logged_in.disconnect(dispatch_uid="tests")


@pytest.fixture
def smtp_sink(settings: Any) -> Iterator[smtp.SmtpSink]:
    """A real mail server on this machine; what the app sends during the test goes there."""
    sink, controller = smtp.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = sink.host
    settings.EMAIL_PORT = sink.port
    settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
    settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
    settings.EMAIL_TIMEOUT = 5
    yield sink
    controller.stop()


@pytest.fixture
def live(live_server: Any, settings: Any) -> Any:
    """The app on a real port, over the test database; links in mails and QR codes lead to it."""
    settings.SITE_URL = live_server.url
    return live_server
