"""A shop in one file, to be carried, kept, and merged: a zip of JSON Lines and photos.

The same content gives the same bytes, whoever wrote it down and in whatever order.
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, BinaryIO

from carwright.shop.canonical import canonical, digest_of
from carwright.shop.clock import MOST
from carwright.shop.faults import ShopError
from carwright.shop.program import version
from carwright.shop.records import ENTRY, SORTS, STATEMENT, Line, Record, Writing, record_digest, writing_digest
from carwright.shop.shapes import entry_fault, statement_fault
from carwright.shop.source import Progress, Source

FORMAT = "carwright-shop/1"
HEAD, RECORDS, WRITINGS, FILES = "shop.json", "records.jsonl", "writings.jsonl", "files/"
LONGEST_LINE = 4_000_000
"""Bytes of one record or writing: a sheet has a million at most."""
LARGEST_HEAD = 100_000
LARGEST_FILE = 100_000_000
MOST_BYTES = 50_000_000_000
"""Of everything unpacked."""
STEEPEST = 150
"""Unpacked by packed bytes: text of this kind stays below 30, deflate cannot exceed 1032 (zlib's documentation)."""
SMALL = 1_000_000
"""Bytes below which nobody asks how well they were packed."""
TOLD_EVERY = 1000
"""Rows between two words on how far it is."""
_UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_LONGEST_KEY = 3000


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
        """Let go of the file."""
        self._archive.close()

    def _checked(self) -> dict[str, zipfile.ZipInfo]:
        """Members by name; each may be there once, and none may be more than it says or lead elsewhere."""
        found: dict[str, zipfile.ZipInfo] = {}
        whole = 0
        for info in self._archive.infolist():
            name = info.filename
            shown = f"member {name[:80]!r}"
            if name not in {HEAD, RECORDS, WRITINGS} and not (
                name.startswith(FILES) and _DIGEST.fullmatch(name.removeprefix(FILES))
            ):
                raise ExchangeError(self._file, shown, "no part of an export")
            if name in found:
                raise ExchangeError(self._file, shown, "is there twice")
            if info.flag_bits & 0x1:
                raise ExchangeError(self._file, shown, "is locked with a password")
            if info.file_size > SMALL and info.file_size > STEEPEST * max(info.compress_size, 1):
                raise ExchangeError(self._file, shown, "unpacks to far more than it is, as no export does")
            if name.startswith(FILES) and info.file_size > LARGEST_FILE:
                raise ExchangeError(self._file, shown, f"is larger than {LARGEST_FILE} bytes")
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
            or any(not _DIGEST.fullmatch(str(digests.get(each))) for each in (RECORDS, WRITINGS))
        ):
            raise ExchangeError(self._file, HEAD, "needs counts and digests")
        return dict(head)

    def _bytes(self, name: str, most: int) -> bytes:
        try:
            with self._archive.open(self._members[name]) as member:
                data = member.read(most + 1)
        except (zipfile.BadZipFile, OSError, EOFError, NotImplementedError, ValueError) as error:
            raise ExchangeError(self._file, name, f"cannot be unpacked: {error}") from error
        except Exception as error:
            if type(error).__name__ == "error":  # zlib.error, which has no public base but Exception
                raise ExchangeError(self._file, name, "is damaged") from error
            raise
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
            content = self._bytes(name, LARGEST_FILE)
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
                while data := member.readline(LONGEST_LINE + 1):
                    count += 1
                    place = f"{name}:{count}"
                    whole.update(data)
                    if len(data) > LONGEST_LINE:
                        raise ExchangeError(self._file, place, f"is longer than {LONGEST_LINE} bytes")
                    yield place, self._row(place, data)
        except (zipfile.BadZipFile, OSError, EOFError, NotImplementedError) as error:
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
        identity, subject, kind, key = row["id"], row["subject"], row["kind"], row["key"]
        good_id = bool(_UUID.fullmatch(identity)) if kind == ENTRY else identity == ""
        if kind not in {ENTRY, STATEMENT} or not good_id or not _UUID.fullmatch(subject) or len(key) > _LONGEST_KEY:
            raise ExchangeError(self._file, place, "is neither an entry nor a statement of this version")
        try:
            body = canonical(row["body"])
            body.encode("utf-8")
        except (ValueError, RecursionError) as error:
            raise ExchangeError(self._file, place, "holds a number or a sign that cannot be kept") from error
        if record_digest(identity, subject, kind, key, body) != row["digest"]:
            raise ExchangeError(self._file, place, "does not come to its digest: damaged or changed")
        self._body(place, kind, key, row["body"])
        return Record(identity, subject, kind, key, body, row["digest"])

    def _body(self, place: str, kind: str, key: str, body: dict[str, Any]) -> None:
        if kind == ENTRY:
            fault = entry_fault(key, body)
        else:
            replaces = body.get("replaces")
            good = set(body) == {"replaces", "value"} and isinstance(replaces, list)
            if not good or not all(isinstance(each, str) and _DIGEST.fullmatch(each) for each in replaces or ()):
                raise ExchangeError(self._file, place, "is no statement: needs value and replaces")
            fault = statement_fault(key, body["value"])
        if fault:
            raise ExchangeError(self._file, place, fault)

    def _writing(self, place: str, row: dict[str, Any]) -> Writing:
        self._keys(place, row, {"digest": str, "subject": str, "of": str, "clock": int, "who": str, "program": str,
                                "lines": list})  # fmt: skip
        lines = [self._line(place, each) for each in row["lines"]]
        if not lines or row["of"] not in SORTS or not _UUID.fullmatch(row["subject"]) or not 0 <= row["clock"] <= MOST:
            raise ExchangeError(self._file, place, "is no writing of this version")
        head = (row["subject"], row["of"], row["clock"], row["who"], row["program"])
        try:
            comes_to = writing_digest(*head, lines)
        except UnicodeEncodeError as error:
            raise ExchangeError(self._file, place, "holds a sign that cannot be kept") from error
        if comes_to != row["digest"]:
            raise ExchangeError(self._file, place, "does not come to its digest: damaged or changed")
        return Writing(*head, tuple(lines), row["digest"])

    def _line(self, place: str, row: Any) -> Line:  # noqa: ANN401 - whatever JSON holds
        good = isinstance(row, list) and len(row) == len(("record", "after", "before"))
        if (
            not good
            or not all(isinstance(each, str) for each in row)
            or not _DIGEST.fullmatch(row[0])
            or not all(each == "" or _UUID.fullmatch(each) for each in row[1:])
        ):
            raise ExchangeError(self._file, place, "has a line that names no record and its place")
        return Line(*row)

    def _keys(self, place: str, row: dict[str, Any], kinds: dict[str, type]) -> None:
        if set(row) != set(kinds) or any(type(row[key]) is not kind for key, kind in kinds.items()):
            raise ExchangeError(self._file, place, f"expected the keys {', '.join(kinds)}")


def check_whole(file: str, source: Source, held: Iterable[str]) -> Sequence[str]:
    """Read all of an export once, before anything of it is written.

    Parameters
    ----------
    file : str
        Its name.
    source : Source
        The export.
    held : iterable of str
        Digests of records the shop has.

    Returns
    -------
    sequence of str
        Subjects it is about.

    Raises
    ------
    ExchangeError
        When a writing names a record that is nowhere, or one of another subject, or a record is named by none.
    """
    subjects = {each.digest: each.subject for each in source.records()}
    known = set(held)
    named: set[str] = set()
    about: set[str] = set()
    for writing in source.writings():
        about.add(writing.subject)
        for each in writing.lines:
            if each.record not in subjects and each.record not in known:
                raise ExchangeError(
                    file, f"writing {writing.digest[:12]}", f"names record {each.record[:12]}, not here"
                )
            if subjects.get(each.record, writing.subject) != writing.subject:
                raise ExchangeError(file, f"writing {writing.digest[:12]}", "names a record of another subject")
            named.add(each.record)
    loose = set(subjects) - named
    if loose:
        raise ExchangeError(file, f"record {min(loose)[:12]}", "is named by no writing")
    for _ in source.files():
        pass
    return sorted(about)
