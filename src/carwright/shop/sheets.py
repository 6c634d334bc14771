"""Adding sheets: all of them or, where one is refused, none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, func, select

from carwright.errors import SHOWN_AT_MOST, CarwrightError, Fault, SheetError
from carwright.history import Sheet
from carwright.shop.adding import Addition, addition_of, alike, car_id
from carwright.shop.batch import Batch
from carwright.shop.blobs import LARGEST, keep
from carwright.shop.canonical import named_id, said_of
from carwright.shop.document import apart, files_of
from carwright.shop.faults import ChangedError
from carwright.shop.naming import files_named, stays_inside
from carwright.shop.records import CAR
from carwright.shop.schema import record, standing
from carwright.shop.standing import kept_texts
from carwright.shop.store import AT_ONCE, chunks, held

if TYPE_CHECKING:
    from carwright.shop.shop import Shop


MEASURED = ("reading", "profile")
"""Kinds of entry in which two cars are seldom alike."""
COMMON = 25
"""Cars that share a reading before it tells nothing of one; judgement."""
MOST_TRIED = 20
"""Readings by which a car is looked for."""


class ManySheetsError(CarwrightError):
    """Some of the sheets cannot be added, so none was; every one of them is named."""

    http_status = 409

    def __init__(self, messages: list[str]) -> None:
        shown = messages[:SHOWN_AT_MOST]
        if len(messages) > len(shown):
            shown.append(f"and {len(messages) - len(shown)} more sheets")
        super().__init__("\n".join(shown))


@dataclass(frozen=True, slots=True)
class Given:
    """A sheet to add.

    Attributes
    ----------
    sheet : Sheet
        As read.
    folder : Path or None
        Where the files it names lie.
    borrowed : frozenset of str
        Instruments it has from the shop, and does not declare itself.
    """

    sheet: Sheet
    folder: Path | None = None
    borrowed: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Added:
    """What adding a sheet came to.

    Attributes
    ----------
    title : str
        Of the car.
    new : bool
        Whether the shop did not have it.
    addition : Addition
        What was added.
    missing : tuple[str, ...]
        Files the sheet names that were not found; the sheet was added without them.
    """

    title: str
    new: bool
    addition: Addition
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Adding:
    shop: Shop
    batch: Batch
    correct: bool
    another: bool
    named: dict[tuple[str, str, str], str] = field(default_factory=dict)
    """Cars of this call by title, scale and number."""


def add_sheets(
    shop: Shop, sheets: Sequence[Given], *, who: str = "", correct: bool = False, another: bool = False
) -> list[Added]:
    """Add sheets; see :meth:`carwright.shop.Shop.add`."""
    added: list[Added] = []
    problems: list[str] = []
    with shop.writing(who) as batch:
        adding = _Adding(shop, batch, correct, another)
        for given in sheets:
            try:
                added.append(_add(adding, given))
            except (ChangedError, SheetError) as error:
                problems.append(str(error))
        if problems:
            raise ManySheetsError(problems)
    return added


def _add(adding: _Adding, given: Given) -> Added:
    sheet, connection = given.sheet, adding.batch.connection
    car = car_id(sheet, given.borrowed)
    known = held(connection, car)
    if not sheet.car.id:
        if known.writings and adding.another:
            car = named_id("car", car, "another", str(len(known.writings)), str(adding.batch.clock))
            known = held(connection, car)
        elif not known.writings and not adding.another:
            _refuse_twin(adding, sheet)
    contents, missing = _files(connection, given, files_of(known.state))
    address = adding.shop.address
    files = {name: {"digest": keep(connection, address, data), "size": len(data)} for name, data in contents.items()}
    addition = addition_of(sheet, known, car=car, files=files, borrowed=given.borrowed, correct=adding.correct)
    adding.batch.write(known, CAR, addition.records, addition.lines)
    adding.named[_name(sheet)] = car
    if addition.lines and known.writings:
        adding.shop.must_read(adding.batch.touched[car], sheet.file or "sheet")
    return Added(sheet.car.title, not known.writings, addition, tuple(missing))


def _files(connection: Connection, given: Given, own: Mapping[str, str]) -> tuple[dict[str, bytes], list[str]]:
    """Content of the files a sheet names, and the names of those that are nowhere.

    A file kept for all cars that lies beside the sheet as it is kept, where a shop wrote it, stays one for all.
    """
    found: dict[str, bytes] = {}
    missing, faults = [], []
    named = list(files_named(given.sheet))
    kept = kept_texts(connection, [name for _, name in named])
    for place, name in named:
        if not stays_inside(name):
            faults.append(Fault(0, place, f"{name!r} must lie beside the sheet or in a folder below it"))
            continue
        try:
            content = _content(given.folder, name)
        except OSError as error:
            faults.append(Fault(0, place, f"{name!r} cannot be read: {error.strerror or error}"))
            continue
        if content is not None and (name in own or kept.get(name, "").encode("utf-8") != content):
            found[name] = content
        elif content is None and name not in kept and name not in own:
            missing.append(name)
    if faults:
        raise SheetError(given.sheet.file or "sheet", faults)
    return found, missing


def _content(folder: Path | None, name: str) -> bytes | None:
    """Content of a file beside a sheet, None where there is none."""
    if folder is None:
        return None
    path = folder / name.replace("\\", "/")
    if not path.is_file():
        return None
    if path.stat().st_size > LARGEST:
        raise OSError(0, f"it is larger than {LARGEST} bytes")
    return path.read_bytes()


def _refuse_twin(adding: _Adding, sheet: Sheet) -> None:
    """A sheet without an id that looks like a changed sheet of a car that is here."""
    found = _named_alike(adding, sheet) or _measured_alike(adding.batch, sheet)
    if not found:
        return
    title, twin = found
    why = (
        f"has no ids, and looks like a changed sheet of {title!r}, which the shop has as {twin}. If it is that car, "
        f'put id = "{twin}" under [car], or write its sheet anew with `carwright shop sheet`: a sheet that bears ids '
        "(`carwright shop add --write-ids`) may be changed and added again. If it is another car, add it with --another"
    )
    raise ChangedError(sheet.file or "sheet", [why])


def _name(sheet: Sheet) -> tuple[str, str, str]:
    return sheet.car.title, sheet.car.scale, sheet.history.prototype.get("number", "")


def _named_alike(adding: _Adding, sheet: Sheet) -> tuple[str, str] | None:
    """Title and id of a car of the same title, scale and number."""
    mine = _name(sheet)
    if mine in adding.named:
        return mine[0], adding.named[mine]
    query = select(standing.c.subject).where(
        standing.c.of == CAR, standing.c.title == mine[0], standing.c.scale == mine[1], standing.c.number == mine[2]
    )
    twin = adding.batch.connection.execute(query.limit(1)).scalar()
    return None if twin is None else (mine[0], str(twin))


def _measured_alike(batch: Batch, sheet: Sheet) -> tuple[str, str] | None:
    """Title and id of a car most of whose readings are these; looks are in few words, and alike on many cars.

    Only readings that few cars share lead to one, so that what this takes does not grow with the shop.
    """
    said = sorted({said_of(body) for _, body in apart(sheet)[1] if body["kind"] in MEASURED})
    near: set[str] = set()
    for each in said[:MOST_TRIED]:
        query = select(record.c.subject).where(record.c.said == each).limit(COMMON)
        found = batch.connection.execute(query).scalars().all()
        near |= set(found) if len(found) < COMMON else set()
    counts: dict[str, int] = {}
    for subjects, values in product(chunks(sorted(near), AT_ONCE // 2), chunks(said, AT_ONCE // 2)):
        query_both = (
            select(record.c.subject, func.count(func.distinct(record.c.said)))
            .where(record.c.subject.in_(subjects), record.c.said.in_(values))
            .group_by(record.c.subject)
        )
        for subject, count in batch.connection.execute(query_both):
            counts[subject] = counts.get(subject, 0) + count
    twin = alike(len(said), counts)
    return (held(batch.connection, twin).state.title, twin) if twin else None
