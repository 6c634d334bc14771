"""Reading a text file a person wrote: whole, of a sensible size, in UTF-8, or refused in one sentence."""

from __future__ import annotations

from pathlib import Path

from carwright.errors import Fault, SheetError


def read_text(path: str | Path, *, most: int, what: str) -> str:
    """The text of a file, without a mark of byte order.

    Parameters
    ----------
    path : path
        The file.
    most : int
        Bytes it may have at most.
    what : str
        What it is, for the message.

    Raises
    ------
    SheetError
        "<file>: larger than 1000000 bytes, which no bench sheet is", "<file>: cannot be read: No such file or
        directory", "<file>:3: not UTF-8 text: save the file as UTF-8"
    """
    file = Path(path)
    try:
        if file.stat().st_size > most:
            raise SheetError(str(path), [Fault(0, "", f"larger than {most} bytes, which no {what} is")])
        raw = file.read_bytes()
    except OSError as error:
        raise SheetError(str(path), [Fault(0, "", f"cannot be read: {error.strerror or error}")]) from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise SheetError(str(path), [Fault(line, "", "not UTF-8 text: save the file as UTF-8")]) from error
