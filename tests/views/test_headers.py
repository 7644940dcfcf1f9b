"""What goes with every answer: the content policy, cookies, caching. (OWASP ASVS 5.0, 3.3 to 3.5 and 14.3)"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.views import world as worlds
from tests.views.world import World, signed_in

ROOT = Path(__file__).resolve().parents[2]
HTTPS = {"WAREBOARD_SITE_URL": "https://studio.example"}


@pytest.fixture
def world(db: None, settings: Any, tmp_path: Path) -> World:
    settings.DEMO = True
    settings.EMAIL_FILE_PATH = str(tmp_path)
    worlds.keep_a_mail(tmp_path)
    return worlds.build()


def answers(world: World) -> Iterator[tuple[str, Any]]:
    """An answer of every address, and of what is wrong in each way, by name."""
    maud, visitor = signed_in(world.maud), Client(enforce_csrf_checks=True)
    for page in worlds.pages(world):
        yield page.name, maud.get(page.url)  # a page, a redirect, or 405
        if page.level not in {"anyone", "demo"}:
            yield f"{page.name} of a visitor", visitor.get(page.url)
    yield "absent", maud.get("/never/was/")
    yield "stale form", visitor.post(reverse("sign-in"), {"email": "ines@quillmere.example"})
    yield "refused form", maud.post(reverse("glaze-new"), {"name": ""})
    yield "slips", maud.get(f"{reverse('slips-sheet')}?p={world.ready.code}")


def directives(policy: str) -> dict[str, list[str]]:
    parts = [part.split() for part in policy.split(";") if part.strip()]
    return {name: values for name, *values in parts}


def policy_faults(policy: str) -> list[str]:
    rules = directives(policy)
    faults = [
        value
        for values in rules.values()
        for value in values
        if "unsafe-inline" in value or "unsafe-eval" in value or "*" in value or value.endswith(":")
        if value != "blob:"  # photos that this page has made itself
    ]
    faults += [name for name in ("default-src", "frame-ancestors") if name not in rules]
    if "sandbox" not in rules:
        faults += [name for name in ("base-uri", "form-action", "script-src") if name not in rules]
    if rules.get("default-src") != ["'none'"]:
        faults.append("default-src")
    if rules.get("script-src", ["'self'"]) != ["'self'"]:
        faults.append("script-src")
    return faults


#: These stand in a frame of the studio's own pages, and have a stricter policy of their own.
FRAMED = {"notice-mail", "wording-mail", "demo-mail-html"}


#: These may ask for the camera, and run the reader of codes, which is WebAssembly; no other page may.
SCANS = {"scan", "scan-shelf", "pickup", "pickup-add", "unload", "unload-kept"}


def test_every_answer_carries_the_policy_and_its_companions(world: World) -> None:
    faults, seen = [], 0
    for name, answer in answers(world):
        seen += 1
        head = answer.headers
        policy = head.get("Content-Security-Policy", "")
        if name in {"photo", "gallery-photo"}:
            wanted = directives(policy) == {"default-src": ["'none'"], "sandbox": []}
            faults += [] if wanted else [(name, policy)]
        else:
            read = policy.replace(" 'wasm-unsafe-eval'", "") if name in SCANS else policy
            faults += [(name, fault) for fault in policy_faults(read)]
        if "camera=(self)" in head.get("Permissions-Policy", "") and name not in SCANS:
            faults.append((name, "camera"))
        expected = {
            "X-Content-Type-Options": "nosniff",
            "Referrer-Policy": "no-referrer" if name in FRAMED else "same-origin",
            "X-Frame-Options": "SAMEORIGIN" if name in FRAMED else "DENY",
            "Cross-Origin-Opener-Policy": "same-origin",
        }
        faults += [(name, key, head.get(key)) for key, value in expected.items() if head.get(key) != value]
        if name != "photo" and "no-store" not in head.get("Cache-Control", ""):
            faults.append((name, "Cache-Control", head.get("Cache-Control")))
        if name == "photo" and not head["Cache-Control"].startswith("private"):
            faults.append((name, head["Cache-Control"]))
        # A secret in an address must not reach others, and no answer says what it runs on.
        faults += [(name, key) for key in ("Server", "X-Powered-By") if key in head]
    assert faults == []
    assert seen > 170


def test_the_page_for_what_is_broken_carries_them_too(world: World, monkeypatch: Any) -> None:
    def broken(*args: object, **named: object) -> None:
        raise RuntimeError("A kiln shelf fell.")

    monkeypatch.setattr("studio.queries.kilns.kilns_now", broken)
    maud = signed_in(world.maud)
    maud.raise_request_exception = False
    answer = maud.get(reverse("kilns"))
    assert answer.status_code == 500
    assert "Something is broken here" in answer.content.decode()
    assert "shelf fell" not in answer.content.decode()
    assert policy_faults(answer.headers["Content-Security-Policy"]) == []
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "no-store" in answer.headers["Cache-Control"]


def test_the_checks_see_what_they_are_for() -> None:
    good = (
        "default-src 'none'; script-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    )
    assert policy_faults(good) == []
    for bad in (
        "",
        good.replace("'none'", "*", 1),
        good.replace("script-src 'self'", "script-src 'self' 'unsafe-inline'"),
        good.replace("script-src 'self'", "script-src 'self' https:"),
        good.replace("; base-uri 'none'", ""),
        f"{good}; style-src 'unsafe-inline'",
        f"{good}; img-src *.example",
        f"{good}; img-src data:",
    ):
        assert policy_faults(bad), bad


def test_static_files_are_not_sniffed_either(db: None) -> None:
    answer = Client().get("/static/css/base.css")
    assert answer.status_code == 200
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Type"].startswith("text/css")


@pytest.mark.parametrize("language", ["de", "fr-CA", "ar", "zz", "en-US", "*"])
def test_a_browser_of_another_language_gets_the_one_language_whole(world: World, language: str) -> None:
    """Half a page in another language helps nobody: dates, figures and errors are as the rest."""
    maud = signed_in(world.maud)
    for method, url in (("get", "/"), ("post", reverse("glaze-new")), ("get", reverse("firings"))):
        usual, other = (
            worlds.body_of(getattr(maud, method)(url, headers=headers))
            for headers in ({}, {"accept-language": language})
        )
        assert usual == other


def test_cookies_of_a_studio_without_https(world: World, settings: Any) -> None:
    maud = signed_in(world.maud)
    maud.get(reverse("sign-out"))
    answer = maud.get(reverse("glaze-new"))
    assert {cookie.key for cookie in answer.cookies.values()} >= {"csrftoken"}
    sheet = maud.get(f"{reverse('slips-sheet')}?p={world.ready.code}")
    asked = Client().post(reverse("sign-in"), {"email": world.ines.email})
    cookies = [*answer.cookies.values(), *sheet.cookies.values(), *asked.cookies.values()]
    assert {cookie.key for cookie in cookies} >= {"csrftoken", "sheet_slips", "sessionid"}
    for cookie in cookies:
        assert cookie["httponly"], cookie.key
        assert cookie["samesite"] == "Lax", cookie.key
        assert cookie["domain"] == "", cookie.key


def test_nobody_is_told_more_than_the_sessions_number_by_a_cookie(world: World) -> None:
    """No name, no role and no address in a cookie: what a session knows stays at the studio."""
    maud = signed_in(world.maud)
    maud.get("/")
    maud.get(f"{reverse('slips-sheet')}?p={world.ready.code}")
    for cookie in maud.cookies.values():
        assert "maud" not in cookie.value.lower()
        assert re.fullmatch(r"[A-Za-z0-9_.]+", cookie.value), cookie


# A studio on the open web

_ASK = """
import json, os, django
os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
from django.conf import settings
settings.MIGRATION_MODULES = {"studio": None, "auth": None, "contenttypes": None, "sessions": None}
settings.STORAGES = {**settings.STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
django.setup()
from django.core.management import call_command
from django.test import Client
call_command("migrate", run_syncdb=True, verbosity=0)
def told(answer):
    return {"status": answer.status_code, "headers": dict(answer.headers),
        "cookies": {c.key: {k: c[k] for k in ("secure", "httponly", "samesite")}
            for c in answer.cookies.values()}}
there = {"headers": {"host": "studio.example"}}
secure = Client(enforce_csrf_checks=False)
print(json.dumps({
    "plain": told(Client().get("/sign-in/", **there)),
    "page": told(secure.get("/sign-in/", secure=True, **there)),
    "asked": told(secure.post("/sign-in/", {"email": "a@quillmere.example"}, secure=True, **there)),
    "host": told(Client().get("/sign-in/", secure=True, headers={"host": "elsewhere.example"})),
}))
"""


def run(arguments: list[str], folder: Path, **more: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("WAREBOARD_")}
    environment = {**kept, **HTTPS, "WAREBOARD_VAR": str(folder), **more}
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def on_the_web(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    done = run(["-c", _ASK], tmp_path_factory.mktemp("https"))
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_https_only_for_a_year(on_the_web: dict[str, Any]) -> None:
    assert on_the_web["plain"]["status"] == 301
    assert on_the_web["plain"]["headers"]["Location"] == "https://studio.example/sign-in/"
    told = on_the_web["page"]["headers"]["Strict-Transport-Security"]
    assert int(re.search(r"max-age=(\d+)", told)[1]) >= 365 * 24 * 3600
    assert "includeSubDomains" in told


def test_cookies_travel_over_https_alone(on_the_web: dict[str, Any]) -> None:
    cookies = {**on_the_web["page"]["cookies"], **on_the_web["asked"]["cookies"]}
    assert set(cookies) >= {"csrftoken", "sessionid"}
    for name, cookie in cookies.items():
        assert cookie == {"secure": True, "httponly": True, "samesite": "Lax"}, name


def test_other_hosts_names_are_refused(on_the_web: dict[str, Any]) -> None:
    assert on_the_web["host"]["status"] == 400


def test_the_deployment_check_finds_nothing(tmp_path: Path) -> None:
    done = run(["manage.py", "check", "--deploy", "--fail-level", "WARNING"], tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "no issues" in done.stdout + done.stderr
