"""Results: computed when asked for, kept by what they follow from, and worked out for many cars at once."""

from __future__ import annotations

import json
import multiprocessing
import os
import threading
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from carwright.errors import CarwrightError
from carwright.history import Sheet
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import read_document
from carwright.inspection import Inspection, inspect, words_of
from carwright.shop.canonical import canonical, digest_of
from carwright.shop.engine import refuse_read_only
from carwright.shop.faults import ReadOnlyError
from carwright.shop.program import program_digest
from carwright.shop.records import CAR
from carwright.shop.schema import judged, result, standing
from carwright.shop.shared import kept_files, kept_text
from carwright.shop.shop import Shop
from carwright.shop.source import Progress
from carwright.shop.store import AT_ONCE as MOST_AT_ONCE
from carwright.shop.store import Held, chunks, held, held_of
from carwright.shop.workspace import Bench, laid_out
from carwright.tables import Tables, shipped
from carwright.verdict.due_rules import FORMAT as DUE
from carwright.verdict.due_rules import DueRules, read_due_rules, usual_rules

AT_ONCE = 25
"""Cars handed to a process together."""


@dataclass(frozen=True, slots=True)
class _Task:
    """Some cars to judge; sent to another process, so nothing but plain values."""

    benches: tuple[Bench | str, ...]
    rules: DueRules


@contextmanager
def opened(bench: Bench, tables: Tables | None = None) -> Iterator[Sheet]:
    """The sheet of a car with its files beside it, as long as the block lasts.

    Raises
    ------
    SheetError
        When what several people recorded does not make one good sheet.
    MissingFileError
        When a file it goes by is nowhere.
    """
    with laid_out(bench) as folder:
        words = words_of(tables or shipped())
        yield read_document(bench.document, Faults(Lines("")), words, f"car {bench.title}", str(folder))


def due_rules(shop: Shop) -> DueRules:
    """When cars of a shop are due: its own kept rules, in order of their names, or the shipped ones."""
    kept = [name for name, form in kept_files(shop) if form == DUE]
    if not kept:
        return usual_rules()
    found = [read_due_rules(kept_text(shop, name), name, words_of(shop.tables)) for name in kept]
    return DueRules(found[0].id, found[0].title, tuple(rule for each in found for rule in each.rules))


def ground_of(shop: Shop) -> str:
    """Digest of all that results follow from besides the cars: tables, program, and when cars are due."""
    return digest_of(canonical([program_digest(), repr(due_rules(shop))]))


def judged_row(bench: Bench | str, rules: DueRules) -> dict[str, Any]:
    """What inspecting a car comes to; ``fault`` says why where it cannot be inspected, or is not even laid out."""
    row: dict[str, Any] = {
        "status": "", "points": 0.0, "out_of": 0.0, "band": "", "route": "", "reasons": "[]", "due": "[]",
        "fails": 0, "undecided": 0, "unmeasured": 0, "fault": "",
    }  # fmt: skip
    if isinstance(bench, str):
        return {**row, "fault": bench.splitlines()[0]}
    try:
        with opened(bench) as sheet:
            found = inspect(sheet)
            due = found.due(rules)
    except CarwrightError as error:
        return {**row, "fault": str(error).splitlines()[0]}
    verdict = found.verdict
    counted = [each for each in found.last if each.force in found.rubric.charges]
    reasons = [[each.start.isoformat() if each.start else "", each.why, list(each.read)] for each in due.reasons]
    return {
        **row,
        "status": verdict.status,
        "points": verdict.points,
        "out_of": verdict.out_of,
        "band": verdict.band or "",
        "route": found.route if found.is_restricted else "",
        "reasons": json.dumps(list(verdict.status_reasons), ensure_ascii=False),
        "due": json.dumps(reasons, ensure_ascii=False),
        "fails": sum(each.outcome == "fails" for each in counted),
        "undecided": sum(each.outcome == "undecided" for each in counted),
        "unmeasured": sum(each.outcome == "not measured" for each in counted),
    }


def _judge(task: _Task) -> list[dict[str, Any]]:
    return [judged_row(each, task.rules) for each in task.benches]


def stale_cars(shop: Shop, cars: Sequence[str] | None = None) -> list[str]:
    """Cars whose result is missing or follows from something that has changed, in order."""
    query = (
        select(standing.c.subject, standing.c.digest, judged.c.history, judged.c.program)
        .select_from(standing.outerjoin(judged, standing.c.subject == judged.c.subject))
        .where(standing.c.of == CAR)
        .order_by(standing.c.subject)
    )
    ground = ground_of(shop)
    queries = (
        [query] if cars is None else [query.where(standing.c.subject.in_(some)) for some in chunks(cars, MOST_AT_ONCE)]
    )
    with shop.reading() as connection:
        found = [
            subject
            for each in queries
            for subject, digest, history, program in connection.execute(each)
            if (digest, ground) != (history, program)
        ]
    return sorted(found)


def judge_all(
    shop: Shop, cars: Sequence[str], *, jobs: int = 1, progress: Progress | None = None
) -> dict[str, dict[str, Any]] | None:
    """Inspect cars and keep what it came to, some at a time: what is done stays done when this is stopped.

    Parameters
    ----------
    shop : Shop
        Where they are.
    cars : sequence of str
        UUIDs, see :func:`stale_cars`.
    jobs : int
        Processes.
    progress : callable, optional
        Told how many are done, of how many.

    Returns
    -------
    dict or None
        Results by car where the shop may only be read; None where they are kept in it.
    """
    keeping = _may_keep(shop)
    ground, rules = ground_of(shop), due_rules(shop)
    loose: dict[str, dict[str, Any]] = {}
    done = 0
    for group, rows in _worked(_tasks(shop, cars, rules), jobs):
        if keeping:
            _keep(shop, group, rows, ground)
        else:
            loose.update({subject: row for (subject, _), row in zip(group, rows, strict=True)})
        done += len(rows)
        if progress is not None:
            progress(done, len(cars))
    return None if keeping else loose


_Group = list[tuple[str, str]]
"""Cars and the digests of their histories."""


def _tasks(shop: Shop, cars: Sequence[str], rules: DueRules) -> Iterator[tuple[_Group, _Task]]:
    for chunk in chunks(cars, AT_ONCE):
        with shop.reading() as connection:
            query = select(standing.c.subject, standing.c.digest).where(standing.c.subject.in_(chunk))
            digests = {row[0]: row[1] for row in connection.execute(query)}
            benches = tuple(_bench(shop, connection, each) for each in held_of(connection, chunk))
        yield [(subject, digests[subject]) for subject in chunk], _Task(benches, rules)


def _bench(shop: Shop, connection: Connection, known: Held) -> Bench | str:
    """A car laid out, or why it cannot be."""
    try:
        return shop.bench_of(connection, known)
    except CarwrightError as error:
        return str(error)


def _worked(tasks: Iterator[tuple[_Group, _Task]], jobs: int) -> Iterator[tuple[_Group, list[dict[str, Any]]]]:
    """Tasks done, by as many processes; no more lie waiting than keep them busy."""
    if jobs <= 1:
        for group, task in tasks:
            yield group, _judge(task)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(jobs, mp_context=context, initializer=_end_with_parent) as pool:
        running: dict[Future[list[dict[str, Any]]], _Group] = {}
        try:
            for group, task in tasks:
                running[pool.submit(_judge, task)] = group
                if len(running) > jobs + 1:
                    yield from _ended(running)
            while running:
                yield from _ended(running)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _end_with_parent() -> None:
    """Let a process that works for another end with it, however that one ends."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_wait_and_end, args=(parent,), daemon=True).start()


def _wait_and_end(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)


def _ended(
    running: dict[Future[list[dict[str, Any]]], _Group],
) -> Iterator[tuple[_Group, list[dict[str, Any]]]]:
    finished, _ = wait(running, return_when=FIRST_COMPLETED)
    for each in finished:
        yield running.pop(each), each.result()


def _may_keep(shop: Shop) -> bool:
    try:
        refuse_read_only(shop.address)
    except ReadOnlyError:
        return False
    return True


def _keep(shop: Shop, group: _Group, rows: Sequence[Mapping[str, Any]], ground: str) -> None:
    subjects = [subject for subject, _ in group]
    made = [
        {**row, "subject": subject, "history": digest, "program": ground}
        for (subject, digest), row in zip(group, rows, strict=True)
    ]
    with shop.writing() as batch:
        batch.connection.execute(delete(judged).where(judged.c.subject.in_(subjects)))
        batch.connection.execute(insert(judged), made)


def kept_result(shop: Shop, car: str, kind: str, make: Callable[[Inspection], str], *, stage: str = "last") -> str:
    """A whole result of a car as text, made once for the same history, tables and program.

    Parameters
    ----------
    shop : Shop
        Where the car is.
    car : str
        Its UUID.
    kind : str
        What it is, such as ``inspection``.
    make : callable
        Makes it from the car's inspection.
    stage : str
        Whose findings.
    """
    ground = ground_of(shop)
    with shop.reading() as connection:
        bench = shop.bench_of(connection, held(connection, car))
        digest = str(connection.execute(select(standing.c.digest).where(standing.c.subject == car)).scalar())
        key = digest_of(canonical([digest, ground, kind, stage]))
        body = connection.execute(select(result.c.body).where(result.c.key == key)).scalar()
    if body is not None:
        return zlib.decompress(bytes(body)).decode("utf-8")
    with opened(bench, shop.tables) as sheet:
        text = make(inspect(sheet, shop.tables, stage=stage))
    if _may_keep(shop):
        row = {"key": key, "subject": car, "body": zlib.compress(text.encode("utf-8"))}
        with shop.writing() as batch:
            batch.connection.execute(delete(result).where(result.c.key == key))
            batch.connection.execute(insert(result), row)
    return text
