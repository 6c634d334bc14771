"""A shop in one file, to be carried, kept, and merged: a zip of JSON Lines and photos.

The same content gives the same bytes, whoever wrote it down and in whatever order.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any, BinaryIO

from carwright.shop.blobs import LARGEST
from carwright.shop.canonical import canonical, digest_of
from carwright.shop.faults import ShopError
from carwright.shop.program import version
from carwright.shop.records import Line, Record, Writing
from carwright.shop.source import Progress, Source
from carwright.shop.trust import DIGEST, record_fault, writing_fault

FORMAT = "carwright-shop/1"
HEAD, RECORDS, WRITINGS, FILES = "shop.json", "records.jsonl", "writings.jsonl", "files/"
LONGEST_LINE = 20_000_000
"""Bytes of one record or writing: a sheet has a million at most, a file kept for all cars two, before escapes."""
LARGEST_HEAD = 100_000
MOST_BYTES = 50_000_000_000
"""Of everything unpacked."""
STEEPEST = 150
"""Unpacked by packed bytes: text of this kind stays below 30, deflate cannot exceed 1032 (zlib's documentation)."""
SMALL = 100_000_000
"""Bytes below which nobody asks how well they were packed."""
TOLD_EVERY = 1000
"""Rows between two words on how far it is."""


_UNPACKING = (zipfile.BadZipFile, OSError, EOFError, NotImplementedError, zlib.error)


class ExchangeError(ShopError):
    """A file is no export of a shop, or not a whole one; the place is named."""

    http_status = 422

    def __init__(self, file: str, place: str, why: str) -> None:
        self.place = place
        where = f"{file}: {place}" if place else file
        super().__init__(f"{where}: {why}; nothing was imported")


def write_zip(target: BinaryIO, source: Source, progress: Progress | None = None) -> dict[str, int]:
    """Write a shop down.

    Parameters
    ----------
    target : binary file
        Where to.
    source : Source
        The shop.
    progress : callable, optional
        Told how many records and writings are written, of how many.

    Returns
    -------
    dict
        How many ``records``, ``writings`` and ``files``.
    """
    counts = {"records": 0, "writings": 0, "files": 0}
    digests: dict[str, str] = {}
    size = source.size()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
        for name, rows in (
            (RECORDS, map(_record_row, source.records())),
            (WRITINGS, map(_writing_row, source.writings())),
        ):
            whole = hashlib.sha256()
            with archive.open(_member(name), "w", force_zip64=True) as out:
                for row in rows:
                    data = canonical(row).encode("utf-8") + b"\n"
                    whole.update(data)
                    out.write(data)
                    counts[name.removesuffix(".jsonl")] += 1
                    if progress is not None and not (counts["records"] + counts["writings"]) % TOLD_EVERY:
                        progress(counts["records"] + counts["writings"], size)
            digests[name] = whole.hexdigest()
        for digest, content in source.files():
            archive.writestr(_member(f"{FILES}{digest}", zipfile.ZIP_STORED), content)
            counts["files"] += 1
        head = {"format": FORMAT, "program": version(), "counts": counts, "digests": digests}
        archive.writestr(_member(HEAD), json.dumps(head, indent=1, sort_keys=True))
    return counts


def write_export(path: Path, source: Source, progress: Progress | None = None) -> dict[str, int]:
    """Write a shop down into a file that is not there yet, whole or not at all; see :func:`write_zip`.

    Raises
    ------
    ShopError
        "<path>: is there already; nothing was changed"
    """
    if path.exists():
        raise ShopError(f"{path}: is there already; nothing was changed")
    part = path.with_name(f"{path.name}.part")
    if part.exists():
        raise ShopError(f"{part}: is there already, of another export; remove it")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("xb") as target:
            counts = write_zip(target, source, progress)
        part.rename(path)
    except OSError as error:
        _take_away(part)
        raise ShopError(f"{path}: cannot be written: {error.strerror or error}") from error
    except BaseException:
        _take_away(part)
        raise
    return counts


def _take_away(part: Path) -> None:
    """What is half written, where there is any."""
    if part.parent.is_dir():
        part.unlink(missing_ok=True)


def _member(name: str, how: int = zipfile.ZIP_DEFLATED) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    info.compress_type = how
    info.create_system = 3
    info.external_attr = 0o644 << 16
    return info


def _record_row(record: Record) -> dict[str, Any]:
    return {"digest": record.digest, "id": record.id, "subject": record.subject, "kind": record.kind,
            "key": record.key, "body": record.content()}  # fmt: skip


def _writing_row(writing: Writing) -> dict[str, Any]:
    return {
        "digest": writing.digest, "subject": writing.subject, "of": writing.of, "clock": writing.clock,
        "who": writing.who, "program": writing.program,
        "lines": [[each.record, each.after, each.before] for each in writing.lines],
    }  # fmt: skip


class ZipSource:
    """An export, read with distrust: names, sizes, digests and every row are checked as they come.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    ExchangeError
        "<file>: is no zip file, or was cut off", "<file>: member '../x': no part of an export", ...
    """

    def __init__(self, path: Path) -> None:
        self._file = str(path)
        self._open: list[IO[bytes]] = []
        try:
            self._archive = zipfile.ZipFile(path)
        except OSError as error:
            raise ExchangeError(self._file, "", f"cannot be read: {error.strerror or error}") from error
        except (zipfile.BadZipFile, ValueError, NotImplementedError) as error:
            raise ExchangeError(self._file, "", "is no zip file, or was cut off") from error
        try:
            self._members = self._checked()
            self.head = self._head()
        except BaseException:
            self._archive.close()
            raise

    def close(self) -> None:
        """Let go of the file, and of whatever of it is still being read."""
        for each in self._open:
            each.close()
        self._archive.close()

    def _checked(self) -> dict[str, zipfile.ZipInfo]:
        """Members by name; each may be there once, and none may be more than it says or lead elsewhere."""
        found: dict[str, zipfile.ZipInfo] = {}
        whole = 0
        for info in self._archive.infolist():
            name = info.filename
            shown = f"member {name[:80]!r}"
            if name not in {HEAD, RECORDS, WRITINGS} and not (
                name.startswith(FILES) and DIGEST.fullmatch(name.removeprefix(FILES))
            ):
                raise ExchangeError(self._file, shown, "no part of an export")
            if name in found:
                raise ExchangeError(self._file, shown, "is there twice")
            if info.flag_bits & 0x1:
                raise ExchangeError(self._file, shown, "is locked with a password")
            if info.file_size > SMALL and info.file_size > STEEPEST * max(info.compress_size, 1):
                raise ExchangeError(self._file, shown, "unpacks to far more than it is, as no export does")
            if name.startswith(FILES) and info.file_size > LARGEST:
                raise ExchangeError(self._file, shown, f"is larger than {LARGEST} bytes")
            whole += info.file_size
            found[name] = info
        if whole > MOST_BYTES:
            raise ExchangeError(self._file, "", f"unpacks to more than {MOST_BYTES} bytes")
        for name in (HEAD, RECORDS, WRITINGS):
            if name not in found:
                raise ExchangeError(self._file, "", f"has no {name}: it is no export of a shop, or not a whole one")
        return found

    def _head(self) -> dict[str, Any]:
        data = self._bytes(HEAD, LARGEST_HEAD)
        try:
            head = json.loads(data)
        except (ValueError, RecursionError) as error:
            raise ExchangeError(self._file, HEAD, "is not JSON") from error
        form = head.get("format") if isinstance(head, dict) else None
        if form != FORMAT:
            later = isinstance(form, str) and form.startswith("carwright-shop/")
            why = "was made by a later carwright" if later else f"format must be {FORMAT!r}"
            raise ExchangeError(self._file, HEAD, f"{why}, got {str(form)[:40]!r}")
        numbers, digests = head.get("counts"), head.get("digests")
        if (
            not isinstance(numbers, dict)
            or not isinstance(digests, dict)
            or any(type(numbers.get(each)) is not int for each in ("records", "writings", "files"))
            or any(not DIGEST.fullmatch(str(digests.get(each))) for each in (RECORDS, WRITINGS))
        ):
            raise ExchangeError(self._file, HEAD, "needs counts and digests")
        return dict(head)

    def _bytes(self, name: str, most: int) -> bytes:
        try:
            with self._archive.open(self._members[name]) as member:
                data = member.read(most + 1)
        except _UNPACKING as error:
            raise ExchangeError(self._file, name, f"cannot be unpacked: {error}") from error
        if len(data) > most:
            raise ExchangeError(self._file, name, f"is larger than {most} bytes")
        return data

    def records(self) -> Iterator[Record]:
        """Records; each comes to its digest."""
        return (self._record(place, row) for place, row in self._rows(RECORDS))

    def writings(self) -> Iterator[Writing]:
        """Writings; each comes to its digest."""
        return (self._writing(place, row) for place, row in self._rows(WRITINGS))

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Files; each comes to its name."""
        names = sorted(name for name in self._members if name.startswith(FILES))
        if len(names) != self.head["counts"]["files"]:
            raise ExchangeError(self._file, "", f"has {len(names)} files instead of {self.head['counts']['files']}")
        for name in names:
            content = self._bytes(name, LARGEST)
            digest = name.removeprefix(FILES)
            if digest_of(content) != digest:
                raise ExchangeError(self._file, name, "is not what its name says: damaged or changed")
            yield digest, content

    def size(self) -> int:
        """Records and writings, as the head says."""
        return int(self.head["counts"]["records"] + self.head["counts"]["writings"])

    def _rows(self, name: str) -> Iterator[tuple[str, dict[str, Any]]]:
        """Lines of a member; at the end all of them come to the digest and the number in the head."""
        whole, count = hashlib.sha256(), 0
        try:
            with self._archive.open(self._members[name]) as member:
                self._open.append(member)
                while data := member.readline(LONGEST_LINE + 1):
                    count += 1
                    place = f"{name}:{count}"
                    whole.update(data)
                    if len(data) > LONGEST_LINE:
                        raise ExchangeError(self._file, place, f"is longer than {LONGEST_LINE} bytes")
                    yield place, self._row(place, data)
        except _UNPACKING as error:
            raise ExchangeError(self._file, name, f"is damaged or was cut off ({error})") from error
        wanted = self.head["counts"][name.removesuffix(".jsonl")]
        if count != wanted or whole.hexdigest() != self.head["digests"][name]:
            raise ExchangeError(self._file, name, "is not what the head says: damaged, cut off or changed")

    def _row(self, place: str, data: bytes) -> dict[str, Any]:
        try:
            row = json.loads(data.decode("utf-8"))
        except (ValueError, RecursionError) as error:
            raise ExchangeError(self._file, place, "is not JSON") from error
        if not isinstance(row, dict):
            raise ExchangeError(self._file, place, "is no table")
        return row

    def _record(self, place: str, row: dict[str, Any]) -> Record:
        self._keys(place, row, {"digest": str, "id": str, "subject": str, "kind": str, "key": str, "body": dict})
        try:
            body = canonical(row["body"])
            body.encode("utf-8")
        except (ValueError, RecursionError) as error:
            raise ExchangeError(self._file, place, "holds a number or a sign that cannot be kept") from error
        made = Record(row["id"], row["subject"], row["kind"], row["key"], body, row["digest"])
        fault = record_fault(made)
        if fault:
            raise ExchangeError(self._file, place, fault)
        return made

    def _writing(self, place: str, row: dict[str, Any]) -> Writing:
        self._keys(place, row, {"digest": str, "subject": str, "of": str, "clock": int, "who": str, "program": str,
                                "lines": list})  # fmt: skip
        lines = tuple(self._line(place, each) for each in row["lines"])
        made = Writing(row["subject"], row["of"], row["clock"], row["who"], row["program"], lines, row["digest"])
        fault = writing_fault(made)
        if fault:
            raise ExchangeError(self._file, place, fault)
        return made

    def _line(self, place: str, row: Any) -> Line:  # noqa: ANN401 - whatever JSON holds
        if (
            not isinstance(row, list)
            or len(row) != len(Line.__slots__)
            or not all(isinstance(each, str) for each in row)
        ):
            raise ExchangeError(self._file, place, "has a line that names no record and its place")
        return Line(*row)

    def _keys(self, place: str, row: dict[str, Any], kinds: dict[str, type]) -> None:
        if set(row) != set(kinds) or any(type(row[key]) is not kind for key, kind in kinds.items()):
            raise ExchangeError(self._file, place, f"expected the keys {', '.join(kinds)}")
