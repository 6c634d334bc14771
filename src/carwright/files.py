"""Writing files so that nothing is ever half written."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from carwright.errors import CarwrightError


class WriteError(CarwrightError):
    """A file could not be written."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        super().__init__(f"{path}: {why}")


def write_whole(path: Path, text: str, *, replace: bool = True) -> Path:
    """Write a text beside its place, then move it there in one step.

    Parameters
    ----------
    path : Path
        Where to; missing folders are made.
    text : str
        What.
    replace : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    WriteError
        "<path>: is there already" or what the system said.
    """
    return write_bytes_whole(path, text.encode("utf-8"), replace=replace)


def write_bytes_whole(path: Path, data: bytes, *, replace: bool = True) -> Path:
    """Write bytes beside their place, then move them there in one step; see :func:`write_whole`."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if not replace and path.exists():
            raise WriteError(path, "is there already; nothing was changed")
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".carwright-")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            Path(temporary).chmod(_mode_of(path))
            Path(temporary).replace(path)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise WriteError(path, f"cannot be written: {error.strerror or error}") from error
    return path


def _mode_of(path: Path) -> int:
    """Who may do what with a file: as with the one it replaces, else as is usual for the person."""
    if path.exists():
        return path.stat().st_mode & 0o7777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
