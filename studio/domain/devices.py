"""What a browser says of itself, in plain words: "Safari on iPhone", "Firefox on Windows".

Browsers write their User-Agent freely, and many name others besides themselves, so the order of the rows
matters. Sources: RFC 9110, section 10.1.5, for its form; for which words name whom, MDN's "Browser detection
using the user agent" (from memory). What is not known is said so, never guessed.
"""

from __future__ import annotations

import re

from .say import later, say

#: Words in the header -> what people call it; the first that is there counts.
_BROWSERS = (
    (r"\bEdgA?(iOS)?/", "Edge"),
    (r"\b(OPR|OPT|OPiOS)/", "Opera"),
    (r"\bSamsungBrowser/", "Samsung Internet"),
    (r"\b(Firefox|FxiOS)/", "Firefox"),
    (r"\b(Chrome|CriOS|Chromium|HeadlessChrome)/", "Chrome"),
    (r"\bVersion/[\d.]+ .*\bSafari/", "Safari"),
)
_MACHINES = (
    (r"\biPhone\b", "iPhone"),
    (r"\biPad\b", "iPad"),
    (r"\bAndroid\b(?!.*\bMobile\b)", later("an Android tablet")),
    (r"\bAndroid\b", later("an Android phone")),
    (r"\bCrOS\b", later("a Chromebook")),
    (r"\bWindows\b", "Windows"),
    (r"\bMac OS X\b|\bMacintosh\b", later("a Mac")),
    (r"\bLinux\b|\bX11\b", "Linux"),
)
UNKNOWN = later("A browser that does not say what it is")


def device_words(user_agent: str) -> str:
    """Of a User-Agent header: ``Chrome on an Android phone``. At most 60 characters."""
    said = user_agent[:400]
    browser = next((word for pattern, word in _BROWSERS if re.search(pattern, said)), "")
    machine = next((word for pattern, word in _MACHINES if re.search(pattern, said)), "")
    if browser and machine:
        return say("{browser} on {machine}", browser=browser, machine=machine)
    if machine:
        return say("A browser on {machine}", machine=machine)
    return browser or UNKNOWN
