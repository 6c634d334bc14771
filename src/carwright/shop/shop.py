"""A shop: the history of every car, kept so that nothing confirmed is ever lost."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Self
from uuid import UUID

from sqlalchemy import Connection, Engine, func, select

from carwright.errors import SheetError, UnknownNameError
from carwright.history import Sheet
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import read_document
from carwright.history.undo import undoing
from carwright.inspection import words_of
from carwright.shop.address import Address
from carwright.shop.batch import Batch
from carwright.shop.blobs import fetch, keep
from carwright.shop.canonical import named_id, said_of
from carwright.shop.document import FILE, INSTRUMENT, apart, files_of, is_on_sheet, together
from carwright.shop.engine import reading, refuse_read_only, writing
from carwright.shop.faults import ChangedError, ShopError
from carwright.shop.naming import plain_name, stays_inside
from carwright.shop.records import CAR, Line, Record, entry_record, statement_record
from carwright.shop.schema import standing
from carwright.shop.sheets import Added, Given, add_sheets
from carwright.shop.standing import kept_texts, refresh, searched, uses_of
from carwright.shop.state import State
from carwright.shop.store import Held, held, latest_clock, subjects_of
from carwright.shop.trust import is_name
from carwright.shop.workspace import Bench
from carwright.tables import shipped

_BEGINNING = re.compile(r"[0-9a-f-]{4,36}")
"""Of a UUID, as long as people may be asked to type it."""


class Shop:
    """A handle on a shop; made by :func:`carwright.shop.open_shop`.

    Parameters
    ----------
    address : Address
        Where it is.
    engine : Engine
        Its database.

    Attributes
    ----------
    tables : Tables
        The shipped ones, whose digest is part of what results are kept by.
    """

    def __init__(self, address: Address, engine: Engine) -> None:
        self.address = address
        self.engine = engine
        self.tables = shipped()

    def __enter__(self) -> Self:
        """Use it for a block."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one moment."""
        with reading(self.engine, self.address) as connection:
            yield connection

    @contextmanager
    def writing(self, who: str = "") -> Iterator[Batch]:
        """A transaction of the only writer; when it ends, lists and searches know of all it wrote."""
        if not is_name(who):
            raise ShopError(f"{who!r} is no name: it holds signs that cannot be printed")
        refuse_read_only(self.address)
        with writing(self.engine, self.address) as connection:
            batch = Batch(connection, latest_clock(connection), who)
            yield batch
            refresh(connection, batch.touched.values())

    # --- reading -------------------------------------------------------------------------------------------

    def held(self, subject: str) -> Held:
        """All that is held of a subject."""
        with self.reading() as connection:
            return held(connection, subject)

    def state(self, subject: str) -> State:
        """A subject as it stands; one without ``of`` where nothing is known of it."""
        return self.held(subject).state

    def known(self, car: str) -> State:
        """State of a car that is there.

        Raises
        ------
        UnknownNameError
            "there is no car '...'"
        """
        return _car(self.held(car))

    def subjects(self) -> list[str]:
        """Every car, collection and kept file, by UUID."""
        with self.reading() as connection:
            return subjects_of(connection)

    def sheet(self, car: str) -> Sheet:
        """A car's sheet, read anew.

        Raises
        ------
        UnknownNameError
            "there is no car '...'"
        SheetError
            When what several people recorded does not make one good sheet.
        """
        return self.read(self.known(car))

    def read(self, state: State, folder: str = "") -> Sheet:
        """The sheet of a state."""
        return read_document(together(state), Faults(Lines("")), words_of(self.tables), f"car {state.title}", folder)

    def must_read(self, state: State, file: str) -> None:
        """Refuse what does not make a good sheet, before it is written.

        Raises
        ------
        ChangedError
            "<file>: with what the shop has of the car: entry 9 (...): ..."
        """
        try:
            self.read(state)
        except SheetError as error:
            places = [fault.sentence("with what the shop has of the car") for fault in error.faults]
            raise ChangedError(file, places) from error

    def bench(self, car: str, *, photos: bool = False) -> Bench:
        """A car laid out with the files it names, photos only where asked for.

        Raises
        ------
        UnknownNameError
            "there is no car '...'"
        """
        with self.reading() as connection:
            return self.bench_of(connection, held(connection, car), photos=photos)

    def bench_of(self, connection: Connection, known: Held, *, photos: bool = False) -> Bench:
        """The same within a transaction."""
        state = _car(known)
        pictures = {each.content()["file"] for each in state.entries if each.key == "photo"}
        own = {name: digest for name, digest in files_of(state).items() if photos or name not in pictures}
        content = {name: fetch(connection, self.address, digest) for name, digest in own.items()}
        wanted = uses_of(state)
        found = {name: text.encode("utf-8") for name, text in kept_texts(connection, wanted).items()}
        found |= {name: each for name, each in content.items() if each is not None}
        needless = pictures | {state.stated.get("car", {}).get("layout")}
        lost = tuple(name for name in (*own, *wanted) if name not in found and name not in needless)
        return Bench(state, state.title, together(state), found, lost)

    def find(self, text: str) -> str:
        """The car a person means: its id or the beginning of it, its title, or words only one car has.

        Raises
        ------
        UnknownNameError
            "there is no car '...'", "there is no one car '...': 3 have that, such as ..."
        """
        wanted = text.strip()
        low = searched(wanted).removeprefix("urn:uuid:")
        cars = select(standing.c.subject, standing.c.title).where(standing.c.of == CAR)
        with self.reading() as connection:
            ways = [cars.where(standing.c.title == wanted)]
            if _BEGINNING.fullmatch(low):
                ways.insert(0, cars.where(standing.c.subject.startswith(low, autoescape=True)))
            for query in ways:
                found = connection.execute(query.limit(2)).all()
                if len(found) == 1:
                    return str(found[0][0])
            query = cars
            for word in low.split():
                query = query.where(standing.c.words.contains(word, autoescape=True))
            count = connection.execute(select(func.count()).select_from(query.subquery())).scalar() or 0
            close = connection.execute(query.order_by(standing.c.title, standing.c.subject).limit(3)).all()
        if count == 1 and low:
            return str(close[0][0])
        if not count or not low:
            raise UnknownNameError("car", wanted)
        some = ", ".join(f"{title} ({subject[:8]})" for subject, title in close)
        raise UnknownNameError("one car", wanted, f": {count} have that, such as {some}; name it by its id")

    # --- writing -------------------------------------------------------------------------------------------

    def add(
        self, sheets: Sequence[Given], *, who: str = "", correct: bool = False, another: bool = False
    ) -> list[Added]:
        """Add sheets: all of them or, where one is refused, none.

        Parameters
        ----------
        sheets : sequence of Given
            Sheets and the folders of the files they name.
        who : str
            Who adds them.
        correct : bool
            Whether what a sheet says goes before what the shop says: a changed entry becomes a correction.
        another : bool
            Whether a sheet without ids that resembles a car of the shop is another car.

        Raises
        ------
        ManySheetsError
            With every sheet that says something else of what is in the shop already, and every file it cannot have.
        ShopError
            When nothing could be written.
        """
        return add_sheets(self, sheets, who=who, correct=correct, another=another)

    def append(
        self,
        car: str,
        bodies: Sequence[Mapping[str, Any]],
        *,
        who: str = "",
        files: Mapping[str, bytes] | None = None,
        instruments: Mapping[str, Mapping[str, Any]] | None = None,
    ) -> list[str]:
        """Add entries at the end of a car's history.

        Parameters
        ----------
        car : str
            Its UUID.
        bodies : sequence of mapping
            Entries as on a sheet; those with an ``id`` keep it. One that is held already under its id, and says the
            same, is passed over, so that what was sent twice is there once.
        who : str
            Who adds them.
        files : mapping, optional
            Content of the files they name, by name.
        instruments : mapping, optional
            Instruments they name that the car does not have yet, by name; it has them from now on.

        Returns
        -------
        list of str
            Their ids, in their order.

        Raises
        ------
        SheetError
            With every fault; nothing is written then.
        ChangedError
            "entry ...: says something else than the entry of that id"
        ShopError
            "'../x' is no name of a file below a folder"
        """
        with self.writing(who) as batch:
            known = held(batch.connection, car)
            state = _car(known)
            again = {_plain_id(body["id"]) for body in bodies if "id" in body} & {each.id for each in state.entries}
            document = together(state)
            kept = [row for row in document.get("entry", []) if row["id"] not in again]
            fresh = {f"{INSTRUMENT}{name}": dict(row) for name, row in (instruments or {}).items()}
            fresh = {key: row for key, row in fresh.items() if key not in state.stated}
            if fresh:
                document["instrument"] = [*document.get("instrument", []), *fresh.values()]
            document["entry"] = [*kept, *bodies]
            sheet = read_document(document, Faults(Lines("")), words_of(self.tables), f"car {state.title}", "")
            records, lines = self._files(batch, state, files or {})
            for key, row in fresh.items():
                records.append(statement_record(car, key, row, state.heads.get(key, ())))
                lines.append(Line(records[-1].digest))
            ids = []
            last = state.entries[-1].id if state.entries else ""
            for number, (own, body) in enumerate(apart(sheet)[1][len(kept) :]):
                identity = own or named_id("entry", car, said_of(body), str(batch.clock), str(number))
                made = entry_record(car, identity, body)
                ids.append(identity)
                if own in again:
                    _must_say_the_same(state, made)
                    continue
                records.append(made)
                lines.append(Line(made.digest, last))
                last = identity
            batch.write(known, CAR, records, lines)
            return ids

    def _files(self, batch: Batch, state: State, files: Mapping[str, bytes]) -> tuple[list[Record], list[Line]]:
        """Statements of new files of a car, whose content is kept already."""
        made = []
        for written, content in files.items():
            if not stays_inside(written):
                raise ShopError(f"{written!r} is no name of a file below a folder")
            name = plain_name(written)
            facts = {"digest": keep(batch.connection, self.address, content), "size": len(content)}
            if state.stated.get(f"{FILE}{name}") != facts:
                made.append(
                    statement_record(state.subject, f"{FILE}{name}", facts, state.heads.get(f"{FILE}{name}", ()))
                )
        return made, [Line(each.digest) for each in made]

    def undo(self, car: str, entry: str = "", *, who: str = "") -> str:
        """Undo an entry by a new one that supersedes it; the latest written where none is named.

        Returns
        -------
        str
            Id of the new entry.

        Raises
        ------
        UndoError
            When there is nothing to undo.
        """
        with self.writing(who) as batch:
            known = held(batch.connection, car)
            state = _car(known)
            bodies = {each.id: each.content() for each in state.entries}
            named = entry or latest_entry(known)
            body = undoing(bodies, named)
            made = entry_record(car, named_id("entry", car, said_of(body), named, "undo"), body)
            batch.write(known, CAR, [made], [Line(made.digest, named)])
            self.must_read(batch.touched[car], f"car {state.title}")
            return made.id

    def revise(self, car: str, key: str, value: Any, *, who: str = "") -> bool:  # noqa: ANN401 - as on a sheet
        """State something of a car anew: ``car.geometry``, ``report``, ``instrument:letter scale``.

        Returns
        -------
        bool
            False where it is stated so already.

        Raises
        ------
        UnknownNameError
            "there is no part of a sheet 'geometry'"
        ChangedError
            When the sheet would not be good any more.
        """
        if not is_on_sheet(key):
            raise UnknownNameError("part of a sheet", key)
        with self.writing(who) as batch:
            known = held(batch.connection, car)
            title = _car(known).title
            changed = batch.state(known, CAR, key, value)
            if changed:
                self.must_read(batch.touched[car], f"car {title}")
            return changed


def _plain_id(text: object) -> str:
    """An id as entries bear it, however it is written; what is none stays as it is, so that the reader refuses it."""
    try:
        return str(UUID(str(text)))
    except ValueError:
        return str(text)


def _must_say_the_same(state: State, made: Record) -> None:
    """Refuse an entry whose id is held and means something else."""
    before = state.entry(made.id)
    if before is not None and before.digest != made.digest:
        raise ChangedError(f"car {state.title}", [f"entry {made.id}: says something else than the entry of that id"])


def _car(known: Held) -> State:
    state = known.state
    if state.of != CAR:
        raise UnknownNameError("car", known.subject)
    return state


def latest_entry(known: Held) -> str:
    """The entry written last, "" where there is none."""
    ids = {each.digest: each.id for each in known.records}
    for writing_ in sorted(known.writings, key=lambda each: (each.clock, each.digest), reverse=True):
        found = [ids[each.record] for each in writing_.lines if ids[each.record]]
        if found:
            return found[-1]
    return ""
