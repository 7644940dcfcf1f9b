"""How fast a page is seen on a slow phone, measured in Chromium over its own protocol.

Against a running studio: `python -m tests.support.paint ADDRESS SESSION [PATH ...]`, where SESSION is the
value of somebody's session cookie. Prints for each path bytes without photos, the largest paint and the
layout shift, each from a fresh cache. What else the machine does in that time is in the figures.

The profile is 400 kbit/s either way with 400 ms of latency (WebPageTest's "Slow 3G", from memory) and a
processor slowed down four times.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from statistics import median
from typing import Any

KBIT_S, LATENCY_MS, CPU_SLOWER = 400, 400, 4
TRIES = 5
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 3,
    "is_mobile": True,
    "has_touch": True,
}
_WATCH = """
window.paints = [];
window.shifted = 0;
new PerformanceObserver(list => {
    for (const entry of list.getEntries()) window.paints.push(entry.startTime);
}).observe({type: 'largest-contentful-paint', buffered: true});
new PerformanceObserver(list => {
    for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.shifted += entry.value;
}).observe({type: 'layout-shift', buffered: true});
"""


@dataclass(frozen=True)
class Seen:
    """Bytes over the line with headers; milliseconds from the start; the score of web-vitals' CLS."""

    bytes_without_photos: int
    bytes_of_photos: int
    largest_paint_ms: float
    shift: float


def look(context: Any, address: str, *, slow: bool = True) -> Seen:
    """One visit in a fresh ``context`` of Playwright; its cookies are set already."""
    context.add_init_script(_WATCH)
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("Network.enable")
    addresses: dict[str, str] = {}
    fetched: list[tuple[str, int]] = []
    devtools.on(
        "Network.requestWillBeSent",
        lambda event: addresses.__setitem__(event["requestId"], event["request"]["url"]),
    )
    devtools.on(
        "Network.loadingFinished",
        lambda event: fetched.append((addresses.get(event["requestId"], ""), event["encodedDataLength"])),
    )
    if slow:
        bytes_s = KBIT_S * 1000 / 8
        devtools.send(
            "Network.emulateNetworkConditions",
            {
                "offline": False,
                "latency": LATENCY_MS,
                "downloadThroughput": bytes_s,
                "uploadThroughput": bytes_s,
            },
        )
        devtools.send("Emulation.setCPUThrottlingRate", {"rate": CPU_SLOWER})
    page.goto(address, wait_until="networkidle")
    # Before anybody scrolls, as the measure has it; photos further down count only as shifts.
    paints = page.evaluate("window.paints")
    page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
    page.wait_for_timeout(600)
    photos = sum(size for url, size in fetched if "/photos/" in url)
    return Seen(
        bytes_without_photos=sum(size for _, size in fetched) - photos,
        bytes_of_photos=photos,
        largest_paint_ms=paints[-1] if paints else 0.0,
        shift=page.evaluate("window.shifted"),
    )


def main(root: str, session: str, *paths: str) -> None:
    from playwright.sync_api import sync_playwright

    from .browser import FLAGS, find_browser

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=FLAGS)
        for path in paths or ("/",):
            seen = []
            for _ in range(TRIES):
                context = browser.new_context(**PHONE)
                context.add_cookies([{"name": "sessionid", "value": session, "url": root}])
                seen.append(look(context, root + path))
                context.close()
            paints = sorted(each.largest_paint_ms for each in seen)
            kilobytes = [seen[-1].bytes_without_photos / 1000, seen[-1].bytes_of_photos / 1000]
            print(
                f"{path}: {kilobytes[0]:.1f} kB and {kilobytes[1]:.1f} kB of photos; largest paint "
                f"{median(paints):.0f} ms ({paints[0]:.0f} to {paints[-1]:.0f}); "
                f"shift {max(each.shift for each in seen):.4f}"
            )
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
