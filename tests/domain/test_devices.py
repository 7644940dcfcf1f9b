"""What a browser says of itself, in plain words.

The headers are as these browsers send them (from memory; their form is RFC 9110, section 10.1.5).
"""

from __future__ import annotations

import pytest

from studio.domain.devices import UNKNOWN, device_words

_ANDROID = "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko)"
_IPHONE = "Mozilla/5.0 (iPhone; CPU iPhone OS 18_1 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko)"
_MAC = "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 (KHTML, like Gecko)"
_WINDOWS = "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko)"
_LINUX = "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko)"
_BOOK = "Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) AppleWebKit/537.36 (KHTML, like Gecko)"
_WINDOWS_FOX = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:133.0)"


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (f"{_ANDROID} Chrome/131.0.0.0 Mobile Safari/537.36", "Chrome on an Android phone"),
        (f"{_ANDROID} Chrome/131.0.0.0 Safari/537.36", "Chrome on an Android tablet"),
        (
            f"{_ANDROID} SamsungBrowser/27.0 Chrome/125.0.0.0 Mobile Safari/537.36",
            "Samsung Internet on an Android phone",
        ),
        (
            "Mozilla/5.0 (Android 14; Mobile; rv:133.0) Gecko/133.0 Firefox/133.0",
            "Firefox on an Android phone",
        ),
        (f"{_IPHONE} Version/18.1 Mobile/15E148 Safari/604.1", "Safari on iPhone"),
        (f"{_IPHONE} CriOS/131.0.6778.73 Mobile/15E148 Safari/604.1", "Chrome on iPhone"),
        (f"{_WINDOWS} Chrome/131.0.0.0 Safari/537.36 Edg/131.0.0.0", "Edge on Windows"),
        (f"{_WINDOWS_FOX} Gecko/20100101 Firefox/133.0", "Firefox on Windows"),
        (f"{_MAC} Version/18.1 Safari/605.1.15", "Safari on a Mac"),
        (f"{_LINUX} HeadlessChrome/131.0.0.0 Safari/537.36", "Chrome on Linux"),
        (f"{_BOOK} Chrome/131.0.0.0 Safari/537.36", "Chrome on a Chromebook"),
        ("SomethingElse/1.0 (Windows)", "A browser on Windows"),
        ("", UNKNOWN),
        ("\x00'; drop table", UNKNOWN),
        ("x" * 100_000, UNKNOWN),
    ],
)
def test_a_device_is_named_in_plain_words(header: str, words: str) -> None:
    assert device_words(header) == words
