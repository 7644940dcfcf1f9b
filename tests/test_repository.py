"""What the repository holds, and what it must not."""

import hashlib
import re
import subprocess
import tomllib
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.template.loader import get_template
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
VENDOR = ROOT / "static" / "vendor"

TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "manage.py", "studio", "templates", "static", "tests", "fixtures"),
    *("pyproject.toml", "requirements.lock", "Makefile", "LICENSE", ".gitignore", ".ci"),
}
MADE_HERE = {".git", ".venv", "var", "build", ".pytest_cache", ".ruff_cache", ".hypothesis"}

#: A lock file with addresses would tie everybody to the registry of whoever wrote it.
#: The names are put together here so that this file does not hold them.
REGISTRIES = ["pypi" + ".org", "python" + "hosted", "registry." + "npmjs", "npmjs" + ".com/package"]

LONGEST = 350


def kept_files() -> list[Path]:
    """The files git keeps; without git, all files but those that are made here."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode == 0:
        paths = [ROOT / name for name in listed.stdout.split("\0") if name]
    else:
        tops = [path for path in ROOT.iterdir() if path.name not in MADE_HERE]
        paths = [path for top in tops for path in ([top] if top.is_file() else top.rglob("*"))]
        paths = [path for path in paths if "__pycache__" not in path.parts]
    return [path for path in paths if path.is_file()]


FILES = kept_files()


def text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


def relative(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_the_top_level_stays_short() -> None:
    assert {path.relative_to(ROOT).parts[0] for path in FILES} <= TOP_LEVEL


def test_no_file_names_a_package_registry() -> None:
    found = [
        f"{relative(path)}: {registry}"
        for path in FILES
        for registry in REGISTRIES
        if registry in text_of(path).lower()
    ]
    assert not found, found


def test_no_file_holds_a_merge_that_was_left_half_done() -> None:
    marks = re.compile(r"^(<{7} |>{7} )", re.MULTILINE)
    found = [relative(path) for path in FILES if marks.search(text_of(path))]
    assert not found, found


def test_no_file_of_the_studio_outgrows_one_subject() -> None:
    long = {
        relative(path): lines
        for path in FILES
        if path.suffix == ".py" and relative(path).startswith("studio/") and "migrations" not in path.parts
        if (lines := len(text_of(path).splitlines())) > LONGEST
    }
    assert not long, f"Split by event: {long}"


def test_vendored_files_are_as_their_authors_published_them() -> None:
    rows = re.findall(r"^\| `([0-9a-f]{64})` \| `([^`]+)` \|$", text_of(VENDOR / "README.md"), re.MULTILINE)
    listed = {name: checksum for checksum, name in rows}
    present = {
        str(path.relative_to(VENDOR)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in VENDOR.rglob("*")
        if path.is_file() and path.name != "README.md"
    }
    assert present == listed


def test_every_vendored_folder_has_version_and_licence() -> None:
    readme = text_of(VENDOR / "README.md")
    for folder in (path for path in VENDOR.iterdir() if path.is_dir()):
        assert re.search(rf"^\| `{folder.name}/` \| [^|]+ \| \d[\w.]* \| [^|]+ \|", readme, re.MULTILINE), (
            folder
        )
        assert list(folder.glob("LICEN[SC]E*")), folder


# What the content policy refuses, found before a browser does. Mail programs have no such policy, and
# understand little else.
INLINE = {
    "a script in the page": re.compile(r"<script(?![^>]*\bsrc=)(?![^>]*application/json)", re.IGNORECASE),
    "a style sheet in the page": re.compile(r"<style", re.IGNORECASE),
    "a style attribute": re.compile(r"<[^>]*[\s\"']style\s*=", re.IGNORECASE),
    "an event attribute": re.compile(r"<[^>]*\s(on[a-z]+|hx-on[\w:-]*)\s*=", re.IGNORECASE),
    "a script address": re.compile(r"javascript:", re.IGNORECASE),
}


def inline_faults(text: str) -> list[str]:
    markup = re.sub(
        r"\{\{.*?\}\}", "x", re.sub(r"\{%.*?%\}|\{#.*?#\}", " ", text, flags=re.DOTALL), flags=re.DOTALL
    )
    return [what for what, pattern in INLINE.items() if pattern.search(markup)]


def test_templates_have_no_inline_script_or_style() -> None:
    templates = [path for path in (ROOT / "templates").rglob("*.html") if "emails" not in path.parts]
    assert templates
    found = {relative(path): faults for path in templates if (faults := inline_faults(text_of(path)))}
    assert not found, found


TEMPLATES = sorted(str(path.relative_to(ROOT / "templates")) for path in (ROOT / "templates").rglob("*.*"))


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_template_compiles(name: str) -> None:
    """A tag that is misspelt or not closed is found here, however rarely its page is opened."""
    get_template(name)


def test_code_writes_no_style_attributes() -> None:
    sources = [path for path in (ROOT / "studio").rglob("*.py") if "notifications" not in path.parts]
    found = [relative(path) for path in sources if re.search(r"\sstyle=[\"']", text_of(path))]
    assert not found, found


@pytest.mark.parametrize(
    ("source", "faults"),
    [
        ('<script src="/static/js/scan.js" type="module"></script>', 0),
        ('<script type="application/json" id="slots">{}</script>', 0),
        ("<script>go()</script>", 1),
        ('<p style="color: red">', 1),
        ('<button onclick="go()">', 1),
        ('<div hx-on:click="go()">', 1),
        ('<p{% if wide %} style="{{ wide }}"{% endif %}>', 1),
        ('<input{% if one == shelf %} checked{% endif %} name="shelf">', 0),
        ('<a href="javascript:go()">', 1),
        ("<style>p {}</style>", 1),
        ('<a href="/pieces/" data-style="row">on = off</a>', 0),
    ],
)
def test_inline_script_and_style_are_found(source: str, faults: int) -> None:
    assert len(inline_faults(source)) == faults


def test_our_scripts_and_styles_load_nothing_from_elsewhere() -> None:
    ours = [
        path
        for path in (ROOT / "static").rglob("*")
        if path.suffix in {".js", ".css"} and VENDOR not in path.parents
    ]
    outside = re.compile(r"(import|from|url\(|fetch\()\s*\(?[\"']?(https?:)?//")
    found = [relative(path) for path in ours if outside.search(text_of(path))]
    assert not found, found


def test_static_files_can_be_collected_as_a_studio_serves_them(settings: Any, tmp_path: Path) -> None:
    """The storage a studio runs with refuses a style sheet that points at a file which is not there."""
    settings.STATIC_ROOT = tmp_path / "static"
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.ManifestStaticFilesStorage"},
    }
    call_command("collectstatic", interactive=False, verbosity=0)
    assert (tmp_path / "static" / "staticfiles.json").exists()


def test_the_lock_file_fits_what_the_project_asks_for() -> None:
    project = tomllib.loads(text_of(ROOT / "pyproject.toml"))["project"]
    wanted = [*project["dependencies"], *chain(*project["optional-dependencies"].values())]
    pins = re.findall(r"^([a-z0-9-]+)==(\S+)", text_of(ROOT / "requirements.lock"), re.MULTILINE)
    for line in wanted:
        requirement = Requirement(line)
        versions = [version for name, version in pins if name == requirement.name]
        assert versions, f"{requirement.name} is not locked: run make lock"
        assert all(requirement.specifier.contains(version) for version in versions), f"{line}: run make lock"


def test_every_locked_package_has_its_hashes() -> None:
    lock = text_of(ROOT / "requirements.lock")
    entries = re.split(r"\n(?=[a-z0-9])", lock.split("# section: run\n")[1])
    assert len(entries) > 10
    assert all("--hash=sha256:" in entry for entry in entries)
