"""Bring the outputs shown in the docs up to date: ``python tools/docs.py`` writes them, ``--check`` only compares.

A fenced block that begins with ```` ```console ```` and a line ``$ carwright …`` holds that command and its output.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
_BLOCK = re.compile(r"```console\n\$ (carwright [^\n]*)\n(.*?)```", re.DOTALL)


def output(command: str) -> str:
    """What a command prints, errors included, run in the project's folder."""
    words = [sys.executable, "-m", *shlex.split(command)]
    result = subprocess.run(words, capture_output=True, text=True, check=False, cwd=ROOT)  # noqa: S603 - our own docs
    return result.stdout + result.stderr


def renewed(text: str) -> str:
    """A page with every shown output as it is now."""
    return _BLOCK.sub(lambda match: f"```console\n$ {match[1]}\n{output(match[1])}```", text)


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
