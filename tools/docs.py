"""Bring the outputs shown in the docs up to date: ``python tools/docs.py`` writes them, ``--check`` only compares.

A fenced block that begins with ```` ```console ```` and a line ``$ carwright …`` holds that command and its output. The
commands of one page share a shop that is new for it.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
_BLOCK = re.compile(r"```console\n\$ (carwright [^\n]*)\n(.*?)```", re.DOTALL)


def output(command: str, folder: str) -> str:
    """What a command prints, errors included, run in the project's folder with a shop in another."""
    words = [sys.executable, "-m", *shlex.split(command)]
    own = {**os.environ, "CARWRIGHT_SHOP": str(Path(folder) / "shop.db")}
    result = subprocess.run(words, capture_output=True, text=True, check=False, cwd=ROOT, env=own)  # noqa: S603 - our own docs
    return result.stdout + result.stderr


def renewed(text: str) -> str:
    """A page with every shown output as it is now."""
    with tempfile.TemporaryDirectory() as folder:
        return _BLOCK.sub(lambda match: f"```console\n$ {match[1]}\n{output(match[1], folder)}```", text)


def main() -> int:
    """Write or check every page."""
    stale = []
    for page in PAGES:
        text = page.read_text("utf-8")
        new = renewed(text)
        if new != text:
            stale.append(page.name)
            if "--check" not in sys.argv:
                page.write_text(new, "utf-8")
    print(f"{'out of date' if '--check' in sys.argv else 'renewed'}: {', '.join(stale) or 'nothing'}")
    return 1 if stale and "--check" in sys.argv else 0


if __name__ == "__main__":
    sys.exit(main())
