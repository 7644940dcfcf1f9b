"""Write requirements.lock from pyproject.toml: `make lock`.

One file with a section for each set of packages. A section is the lines after `# section: <name>` up to
the next such line. A package stands in the first section that needs it, so what runs is installed with
the first section alone, and a later section is installed together with those before it that it names.
Every entry carries its hashes; no address of a package registry is written.
"""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LOCK = ROOT / "requirements.lock"

HEAD = """\
# Exact versions with hashes for Python 3.11 and later. Written by `make lock` from pyproject.toml,
# not edited by hand.
#
# The Makefile installs by section: `make demo` takes "run" alone, `make test` takes "run", "postgres"
# and "test". `make install WITH="postgres heic"` adds what your own studio may want: PostgreSQL, and
# photos in HEIC. By hand, the whole file: pip install --require-hashes -r requirements.lock
"""


def compiled(uv: str, *extras: str) -> dict[str, str]:
    """Entries of a resolution by their first line (name, version and marker)."""
    command = [uv, "pip", "compile", "pyproject.toml", "--universal", "--python-version", "3.11"]
    command += ["--generate-hashes", "--no-header", "--no-annotate", "--quiet"]
    if LOCK.exists() and "--upgrade" not in sys.argv:
        command += ["--constraint", str(LOCK)]
    if "--upgrade" in sys.argv:
        command.append("--upgrade")
    for extra in extras:
        command += ["--extra", extra]
    text = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    entries = re.split(r"\n(?=[A-Za-z0-9])", text.strip())
    return {entry.split(" \\\n")[0]: entry for entry in entries}


def main() -> None:
    uv = sys.argv[1]
    extras = ("postgres", "heic", "test")
    whole = {key.split(" ;")[0] for key in compiled(uv, *extras)}
    written: set[str] = set()
    parts = [HEAD]
    for section in ("run", *extras):
        wanted = compiled(uv) if section == "run" else compiled(uv, section)
        parts.append(f"\n# section: {section}\n")
        for key, entry in wanted.items():
            if key.split(" ;")[0] not in whole:
                raise SystemExit(f"{key} is resolved otherwise when every set is installed together.")
            if key not in written:
                written.add(key)
                parts.append(entry + "\n")
    LOCK.write_text("".join(parts), encoding="utf-8")
    print(f"{LOCK.name}: {len(written)} packages")


if __name__ == "__main__":
    main()
