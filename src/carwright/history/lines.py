"""Which line of a TOML text a table or key stands on, so that a fault can name it."""

from __future__ import annotations

import re
from collections.abc import Mapping

_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.\- ]+?)\s*\]\]?\s*(?:#.*)?\Z")
_KEY = re.compile(r"\s*\"?([A-Za-z0-9_\-]+)\"?\s*=")

_QUOTES = ('"""', "'''", '"', "'")


def _left_open(line: str, quoted: str) -> str:
    """The quotes of several lines that a line leaves open, "" for none; ``quoted`` is what it begins within."""
    at = 0
    while at < len(line):
        if quoted:
            if quoted[0] == '"' and line[at] == "\\":
                at += 2
            elif line.startswith(quoted, at):
                at += len(quoted)
                quoted = ""
            else:
                at += 1
        elif line[at] == "#":
            return ""
        else:
            quoted = next((mark for mark in _QUOTES if line.startswith(mark, at)), "")
            at += len(quoted) or 1
    return quoted if len(quoted) > 1 else ""


Where = tuple[str, int]
"""A table's dotted name, and its number (from 0) where it is one of several."""


class Lines:
    """Line numbers of a TOML text.

    Parameters
    ----------
    text : str
        The text; it need not be valid.
    renamed : mapping, optional
        Tables that are known by another name than the one written.
    """

    def __init__(self, text: str, renamed: Mapping[str, str] | None = None) -> None:
        names = renamed or {}
        self._tables: dict[Where, int] = {}
        self._keys: dict[tuple[Where, str], int] = {}
        counts: dict[str, int] = {}
        here: Where = ("", 0)
        quoted = ""
        for number, line in enumerate(text.split("\n"), 1):
            if quoted:
                quoted = _left_open(line, quoted)
                continue
            header = _HEADER.match(line.rstrip("\r"))
            if header is not None:
                first, dot, rest = header[2].replace(" ", "").partition(".")
                name = f"{names.get(first, first)}{dot}{rest}"
                if header[1] == "[[":
                    counts[name] = counts.get(name, -1) + 1
                here = (name, counts.get(name, 0))
                self._tables.setdefault(here, number)
            elif (key := _KEY.match(line)) is not None:
                self._keys.setdefault((here, key[1]), number)
            quoted = _left_open(line, "")

    def of(self, table: str, number: int = 0, key: str = "") -> int:
        """Line of a key, else of its table, else of what stands where that table should, else 0."""
        where = (table, number)
        return self._keys.get((where, key)) or self._tables.get(where) or self._keys.get((("", 0), table), 0)

    @property
    def tables(self) -> Mapping[Where, int]:
        """Every table header and its line."""
        return self._tables
