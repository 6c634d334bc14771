"""Files a sheet names, and names that stay inside a folder."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import PurePosixPath

from carwright.history import Sheet
from carwright.history.entries import PhotoEntry
from carwright.shop.canonical import named_id
from carwright.shop.records import KEPT

_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
"""Names some systems give to devices."""
LONGEST = 255
"""Bytes of a name on any usual file system."""


def files_named(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Place on the sheet and name of every file it names, each name once."""
    car, seen = sheet.car, set()
    named = [("car, rules", name) for name in car.rules or () if name.endswith(".toml")]
    named += [(f"car, {key}", name) for key in ("rubric", "stock", "layout") if (name := getattr(car, key))]
    if car.prototype is not None:
        named += [("car, prototype, dated", name) for name in car.prototype.dated or ()]
        named += [("car, prototype, roster", car.prototype.roster)] if car.prototype.roster else []
    for number, entry in enumerate(sheet.entries, 1):
        if isinstance(entry, PhotoEntry):
            named.append((f"entry {number} (photo), file", entry.file))
    for place, name in named:
        if name not in seen:
            seen.add(name)
            yield place, name


def plain_name(name: str) -> str:
    """A name without what says nothing: ``./club.toml`` is ``club.toml``."""
    return str(PurePosixPath(name.replace("\\", "/")))


def kept_id(name: str) -> str:
    """UUID of a file kept for all cars: the same name is the same file in every shop."""
    return named_id(KEPT, plain_name(name))


def stays_inside(name: str) -> bool:
    """Whether a name leads to a file in a folder or below it, on any system."""
    plain = name.replace("\\", "/")
    path = PurePosixPath(plain)
    if not plain.isprintable() or not path.parts or path.is_absolute() or plain.endswith("/"):
        return False
    return all(_is_good(part) for part in path.parts)


def _is_good(part: str) -> bool:
    try:
        short = len(part.encode("utf-8")) <= LONGEST
    except UnicodeEncodeError:
        return False
    return (
        short
        and not set(part) & set('<>:"|?*')
        and not part.endswith((" ", "."))  # the folder above among them
        and _RESERVED.fullmatch(part) is None
    )
