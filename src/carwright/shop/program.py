"""What results follow from besides the car: the tables and the program itself, as one digest."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

import carwright

_SHOWN_BY = ("cli", "web", "shop", "publish")
"""Rooms that show, keep or publish results, and make none."""


@cache
def program_digest() -> str:
    """Digest of every table and module that a result may follow from; read once a process."""
    whole = hashlib.sha256()
    root = files("carwright")
    for name, entry in sorted(_files(root, "")):
        content = entry.read_bytes()
        whole.update(f"{name} {len(content)}\n".encode())
        whole.update(content)
    return whole.hexdigest()


def version() -> str:
    """What a writing says it was made with."""
    return f"carwright {carwright.__version__}"


def _files(folder: Traversable, prefix: str) -> list[tuple[str, Traversable]]:
    found = []
    for entry in folder.iterdir():
        name = f"{prefix}{entry.name}"
        if entry.is_dir():
            if name not in _SHOWN_BY and entry.name != "__pycache__":
                found += _files(entry, f"{name}/")
        elif entry.name.endswith((".py", ".toml")):
            found.append((name, entry))
    return found
