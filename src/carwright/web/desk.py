"""The desk: one shop, what is known of the cars asked for lately, and results worked out beside."""

from __future__ import annotations

import logging
import secrets
import tempfile
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from carwright.errors import CarwrightError, UnknownNameError
from carwright.history import History, Sheet
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import read_document
from carwright.inspection import Inspection, inspect, words_of
from carwright.shop import Shop
from carwright.shop.judging import due_rules, ground_of, judge_all, opened, stale_cars
from carwright.shop.state import State
from carwright.shop.store import held
from carwright.shop.workspace import Bench, laid_out, with_entries
from carwright.units import System
from carwright.verdict.due import Due
from carwright.words import Vocabulary

MOST = 24
"""Cars remembered, with all that is known of them."""
_LOG = logging.getLogger("carwright.web")


@dataclass(frozen=True, slots=True)
class Seen:
    """A car as it stands, judged.

    Attributes
    ----------
    car : str
        Its UUID.
    state : State
        What is held of it.
    sheet : Sheet
        Its sheet.
    inspection : Inspection
        Everything there is to say.
    due : Due
        What it is to be looked at again for.
    """

    car: str
    state: State
    sheet: Sheet
    inspection: Inspection
    due: Due

    @property
    def history(self) -> History:
        """What was seen and done."""
        return self.inspection.history


class Desk:
    """What every page asks.

    Parameters
    ----------
    shop : Shop
        Where the cars are.
    is_demo : bool
        Whether it is the demo shop.
    """

    def __init__(self, shop: Shop, *, is_demo: bool = False) -> None:
        self.shop, self.is_demo = shop, is_demo
        self._known: OrderedDict[tuple[str, str, str, str, str], tuple[Seen, tempfile.TemporaryDirectory[str]]] = (
            OrderedDict()
        )
        self._lock = threading.Lock()
        self._beside = ThreadPoolExecutor(1, thread_name_prefix="results")
        self._waiting: set[str] = set()
        self._made: OrderedDict[str, dict[str, list[str]]] = OrderedDict()
        self._ending = threading.Event()

    def close(self) -> None:
        """Stop what is worked out beside, and let go of the shop."""
        self._ending.set()
        self._beside.shutdown(cancel_futures=True)
        with self._lock:
            for _, folder in self._known.values():
                folder.cleanup()
            self._known.clear()
        self.shop.close()

    @property
    def words(self) -> Vocabulary:
        """The names a sheet may use."""
        return words_of(self.shop.tables)

    def seen(self, car: str, *, stage: str = "last", system: System | None = None) -> Seen:
        """A car, judged once for the same history, rules and units.

        Parameters
        ----------
        car : str
            Its UUID.
        stage : str
            Whose findings.
        system : str, optional
            Units to show it in; the car's own where omitted.

        Raises
        ------
        UnknownNameError
            "there is no car '...'"
        CarwrightError
            When what is recorded does not make a good sheet, or a file it goes by is missing.
        """
        with self.shop.reading() as connection:
            known = held(connection, car)
            bench = self.shop.bench_of(connection, known)
        ground = ground_of(self.shop)
        key = (car, _mark(bench), ground, stage, system or "")
        with self._lock:
            if key in self._known:
                self._known.move_to_end(key)
                return self._known[key][0]
        folder = tempfile.TemporaryDirectory(prefix="carwright-desk-")
        try:
            found = self._judged(bench, Path(folder.name), stage, system)
        except BaseException:
            folder.cleanup()
            raise
        with self._lock:
            self._known[key] = (found, folder)
            while len(self._known) > MOST:
                self._known.popitem(last=False)[1][1].cleanup()
        return found

    def _judged(self, bench: Bench, folder: Path, stage: str, system: System | None) -> Seen:
        with laid_out(bench, folder) as place:
            sheet = read_document(bench.document, Faults(Lines("")), self.words, f"car {bench.title}", str(place))
        history = replace(sheet.history, system=system) if system else sheet.history
        inspection = inspect(history, self.shop.tables, stage=stage)
        return Seen(bench.state.subject, bench.state, sheet, inspection, inspection.due(due_rules(self.shop)))

    def tried(
        self,
        car: str,
        bodies: Sequence[Mapping[str, Any]],
        *,
        system: System | None = None,
        borrowed: Mapping[str, Mapping[str, Any]] | None = None,
    ) -> Inspection:
        """A car as it would be judged with more entries, and instruments it does not have yet; nothing is written.

        Raises
        ------
        SheetError
            With what is wrong with the entries.
        """
        bench = with_entries(self.shop.bench(car), bodies, borrowed)
        with opened(bench, self.shop.tables) as sheet:
            history = replace(sheet.history, system=system) if system else sheet.history
            return inspect(history, self.shop.tables)

    def read_with(
        self,
        car: str,
        bodies: Sequence[Mapping[str, Any]],
        borrowed: Mapping[str, Mapping[str, Any]] | None = None,
    ) -> Sheet:
        """A car's sheet with more entries at its end; nothing is judged or written.

        Raises
        ------
        SheetError
            With what is wrong with them.
        """
        bench = with_entries(self.shop.bench(car), bodies, borrowed)
        return read_document(bench.document, Faults(Lines("")), self.words, f"car {bench.title}", "")

    @contextmanager
    def with_photos(
        self, car: str, *, stage: str = "last", system: System | None = None
    ) -> Iterator[tuple[Sheet, Inspection]]:
        """A car with its photos beside it, to be published within the block."""
        with opened(self.shop.bench(car, photos=True), self.shop.tables) as sheet:
            history = replace(sheet.history, system=system) if system else sheet.history
            yield sheet, inspect(history, self.shop.tables, stage=stage)

    def remember(self, made: Mapping[str, Sequence[str]]) -> str:
        """Keep in mind which entries were made together, by car, so that they can be undone together; a key to them."""
        key = secrets.token_urlsafe(12)
        with self._lock:
            self._made[key] = {car: list(ids) for car, ids in made.items()}
            while len(self._made) > MOST:
                self._made.popitem(last=False)
        return key

    def remembered(self, key: str) -> dict[str, list[str]]:
        """Entries kept in mind under a key.

        Raises
        ------
        UnknownNameError
            "there is no such table to undo any more: ..."
        """
        with self._lock:
            if key not in self._made:
                raise UnknownNameError(
                    "table to undo under", key, "; undo its rows one by one in the history of the car"
                )
            return self._made[key]

    def judge_beside(self, cars: Sequence[str] | None = None, *, done: Callable[[], None] | None = None) -> int:
        """Work out what lists show of some cars, or of all, where it is not known; returns how many that are.

        One thread does it, a few cars at a time, so that pages stay quick.
        """
        with self._lock:
            asked = [each for each in stale_cars(self.shop, cars) if each not in self._waiting]
            self._waiting.update(asked)
        if asked and not self._ending.is_set():
            self._beside.submit(self._judge, asked, done)
        return len(asked)

    def _judge(self, cars: Sequence[str], done: Callable[[], None] | None) -> None:
        self._ending.wait(_PAUSE)  # the page that asked goes first
        few = 1 if len(cars) > _MANY else _FEW
        for start in range(0, len(cars), few):
            some, begun = cars[start : start + few], time.perf_counter()
            try:
                if not self._ending.is_set():
                    judge_all(self.shop, some)
            except CarwrightError as error:
                _LOG.warning("results of %d cars could not be kept: %s", len(some), error)
            finally:
                with self._lock:
                    self._waiting.difference_update(some)
            if len(cars) > _MANY:
                self._ending.wait(_REST * (time.perf_counter() - begun))
        if done is not None:
            done()


_PAUSE = 0.4
"""Before results are worked out [s]."""
_MANY, _REST = 100, 3.0
"""Cars from which pages come first, and how long is rested after each then, in times of the work on it."""
_FEW = 5
"""Cars judged in one transaction."""


def _mark(bench: Bench) -> str:
    """What a car's judgement follows from besides the program: its history, and the files it goes by."""
    return f"{bench.state.digest}{sorted((name, hash(content)) for name, content in bench.files.items())}"
