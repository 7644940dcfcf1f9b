"""Draws the app's icons from its own sign with the browser: ``python -m tests.support.icons``.

A phone's home screen wants PNG files: one as it is in two sizes, one that it may cut to any shape (drawn
within the middle four fifths, W3C Web Application Manifest, "maskable"), one without corners of its own.
"""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.support.browser import FLAGS, find_browser

IMAGES = Path(__file__).resolve().parents[2] / "static" / "img"
GROUND = '<rect width="64" height="64" rx="10" fill="#e2e7e4"/>'
BOARD_CORNERS = "a10 10 0 0 1-10 10H10A10 10 0 0 1 0 54Z"


def whole(svg: str) -> str:
    """The sign to the very edges, for phones that round the corners themselves."""
    assert GROUND in svg
    assert BOARD_CORNERS in svg
    return svg.replace(' rx="10"', "").replace(BOARD_CORNERS, "v10H0Z").replace("h63v2H1Z", "h64v2H0Z")


def maskable(svg: str) -> str:
    """The pot small enough that no shape cuts it; ground and board reach the edges."""
    head, _, rest = whole(svg).partition("<path")
    board, _, pot = rest.partition('<path d="M20 12')
    pot = pot.removesuffix("</svg>")
    small = f'<g transform="translate(9.6 11) scale(0.7)"><path d="M20 12{pot}</g>'
    return f"{head}<path{board}{small}</svg>"


def main() -> None:
    svg = (IMAGES / "icon.svg").read_text(encoding="utf-8").strip()
    wanted = {
        "app-192.png": (svg, 192),
        "app-512.png": (svg, 512),
        "app-maskable-512.png": (maskable(svg), 512),
        "app-180.png": (whole(svg), 180),
    }
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=FLAGS)
        for name, (drawing, size) in wanted.items():
            page = browser.new_page(viewport={"width": size, "height": size})
            sized = drawing.replace("<svg ", f'<svg width="{size}" height="{size}" ', 1)
            page.set_content(f'<body style="margin:0;background:none">{sized}</body>')
            page.screenshot(path=IMAGES / name, omit_background=True)
        browser.close()


if __name__ == "__main__":
    main()
