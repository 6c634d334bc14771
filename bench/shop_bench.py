"""A shop of 10,000 cars and 400,000 entries: what it takes to fill, list, search, open and judge it.

Baselines are measured in the same run: the same file asked by SQLite alone, one entry written at a time, and the
smaller shop, for growth.
"""

from __future__ import annotations

import math
import os
import random
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import web_bench

import carwright as cw
from carwright.shop import Given, Shop, open_shop
from carwright.shop.checking import check
from carwright.shop.judging import judge_all, opened, stale_cars
from carwright.shop.listing import Wanted, list_cars

CARS, ENTRIES = 10_000, 40
SMALL = 1_000
BATCH = 100
"""Sheets of one transaction."""
KINDS = ("Boxcar", "Hopper", "Gondola", "Flat car", "Tank car", "Stock car")
OWNERS = ("Tansy River", "Great Umber", "Quillback & Western", "Bittern Lake", "Pellworth Oils")


def text_of(number: int) -> str:
    """An invented sheet of forty entries."""
    dice = random.Random(number)  # noqa: S311 - readings, no secrets
    kind, owner = dice.choice(KINDS), dice.choice(OWNERS)
    rows = [
        'format = "carwright-sheet/1"', "[car]", f'title = "{kind}, {owner} {number}"', 'scale = "HO"',
        f'type = "{kind.lower()}"', "[car.geometry]", 'body_length = "5.35 in"', 'truck_centers = "4.02 in"',
        "axles_per_truck = 2", "[car.prototype]", f'owner = "{owner}"', f'number = "{number}"',
    ]  # fmt: skip
    for at in "AB":
        rows += _entry("reading", what="coupler.height", at=at, values=f"{dice.gauss(0.391, 0.006):.3f} in")
        rows += _entry("gauge", what="coupler.action", at=at, result="pass")
    for axle in range(1, 5):
        rows += _entry("reading", what="wheel.back_to_back", at=str(axle), values=f"{dice.gauss(14.5, 0.05):.2f} mm")
        rows += _entry("reading", what="wheel.check_gauge", at=str(axle), values=f"{dice.gauss(15.3, 0.04):.2f} mm")
    rows += _entry("reading", what="weight.total", values=f"{dice.gauss(106, 6):.1f} g")
    for place in range(ENTRIES - 13):
        rows += _entry("look", what="part", name=f"part {place}", grade=dice.choice(("sound", "sound", "slight")))
    return "\n".join(rows) + "\n"


def _entry(kind: str, **keys: str) -> Iterator[str]:
    yield "[[entry]]"
    yield f'kind = "{kind}"'
    for key, value in keys.items():
        yield f'{key} = ["{value}"]' if key == "values" else f'{key} = "{value}"'


def fill(shop: Shop, first: int, last: int) -> tuple[float, float]:
    """Seconds of adding sheets, and of reading them beforehand."""
    adding = reading = 0.0
    for start in range(first, last, BATCH):
        begin = time.perf_counter()
        sheets = [Given(cw.read_sheet_text(text_of(number))) for number in range(start, min(start + BATCH, last))]
        middle = time.perf_counter()
        shop.add(sheets)
        reading += middle - begin
        adding += time.perf_counter() - middle
    return adding, reading


def middle(action: Callable[[int], object], runs: int = 41) -> float:
    """The middle time of many runs [s]."""
    taken = []
    for run in range(runs):
        start = time.perf_counter()
        action(run)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def one_by_one(shop: Shop, seconds: float = 2.0) -> float:
    """Entries a second where each is written durably by itself."""
    car = list_cars(shop, most=1)[0].id
    start, count = time.perf_counter(), 0
    while time.perf_counter() - start < seconds:
        shop.append(car, [{"kind": "note", "note": f"one more, {count}"}])
        count += 1
    return count / (time.perf_counter() - start)


def raw(place: Path, query: str, *values: object) -> Callable[[int], object]:
    """The same question, asked of the same file by SQLite alone."""
    connection = sqlite3.connect(f"file:{place}?mode=ro", uri=True)
    return lambda _run: connection.execute(query, values).fetchall()


def ask(shop: Shop, place: Path) -> dict[str, float]:
    """Times of the usual questions [s], each printed beside its baseline."""
    cars = [each.id for each in list_cars(shop)]
    listed = "SELECT subject, title, scale, number FROM standing WHERE \"of\" = 'car' ORDER BY lower(title) LIMIT 50"
    found = "SELECT subject, title FROM standing WHERE words LIKE '%umber%' AND words LIKE '%777%'"
    rows = "SELECT body FROM record WHERE subject = ?"
    questions: dict[str, tuple[Callable[[int], object], Callable[[int], object]]] = {
        "list, a page of 50": (lambda _run: list_cars(shop, most=50), raw(place, listed)),
        "search, two words": (lambda _run: list_cars(shop, Wanted("umber 777")), raw(place, found)),
        "one car, its history": (lambda run: shop.state(cars[run * 7 % len(cars)]), raw(place, rows, cars[0])),
        "one car, its sheet": (lambda run: shop.sheet(cars[run * 7 % len(cars)]), raw(place, rows, cars[0])),
    }
    taken = {}
    for name, (action, baseline) in questions.items():
        action(0)
        taken[name], alone = middle(action), middle(baseline)
        print(f"  {name:<28} {taken[name] * 1e3:7.2f} ms  {taken[name] / alone:6.1f} x SQLite alone")
    return taken


def judge_some(shop: Shop, count: int, jobs: int) -> float:
    """Seconds a car."""
    cars = stale_cars(shop)[:count]
    start = time.perf_counter()
    judge_all(shop, cars, jobs=jobs)
    return (time.perf_counter() - start) / len(cars)


def memory() -> float:
    """The most this process ever held [MB]; its children not counted."""
    line = next(each for each in Path("/proc/self/status").read_text("ascii").splitlines() if each.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


def call(place: Path, *arguments: str) -> tuple[float, subprocess.CompletedProcess[str]]:
    """What a person would call, and the seconds it took."""
    start = time.perf_counter()
    command = [sys.executable, "-m", "carwright", "shop", *arguments, "--shop", str(place)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603 - our own commands
    return time.perf_counter() - start, done


def inspect_all(place: Path) -> None:
    """Every car not known, on two cores, with its bar on stderr."""
    taken, done = call(place, "inspect", "--jobs", "2")
    print(f"  `shop inspect` of all that was left, two processes: {taken:.0f} s")
    print(f"    {done.stdout.splitlines()[0]}; its last word on stderr: {(done.stderr.splitlines() or ['none'])[-1]}")


def carry(place: Path, folder: Path) -> None:
    """The whole shop into a file, and that into an empty shop."""
    file = folder / "whole.zip"
    out, _ = call(place, "export", str(file))
    into, _ = call(folder / "other.db", "import", str(file))
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"  export {out:.0f} s, {file.stat().st_size / 1e6:.0f} MB; import into an empty shop {into:.0f} s")
    print(f"  the most memory any of these commands held: {most:.0f} MB")


def main() -> None:
    """Fill a shop to a tenth, ask; fill it, ask again; judge it all."""
    print(f"\nThe shop: {CARS} cars, {CARS * ENTRIES} entries")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        place = folder / "shop.db"
        with open_shop(place, create=True) as shop:
            filled: dict[int, float] = {}
            adding, reading = fill(shop, 0, SMALL)
            filled[SMALL] = adding
            rate = SMALL * ENTRIES / adding
            alone = one_by_one(shop)
            print(f"  insert, {BATCH} sheets at once  {rate:7.0f} entries/s  {rate / alone:5.1f} x one entry at a time")
            print(f"    (reading the sheets takes {reading / adding:.1f} x as long)")
            print(f"  with {SMALL} cars:")
            small = ask(shop, place)
            small_judged = judge_some(shop, 200, 1)
            more, _ = fill(shop, SMALL, CARS)
            filled[CARS] = adding + more
            print(f"  with {CARS} cars, {place.stat().st_size / 1e6:.0f} MB:")
            large = ask(shop, place)
            large_judged = judge_some(shop, 200, 1)
            decades = math.log10(CARS / SMALL)
            grown = {key: large[key] / small[key] for key in large}
            grown |= {
                "filling": filled[CARS] / filled[SMALL],
                "judging all": large_judged / small_judged * CARS / SMALL,
            }
            exponents = (f"{key} {math.log10(factor) / decades:.2f}" for key, factor in grown.items())
            print(f"  growth from {SMALL} to {CARS} cars, as an exponent: {'; '.join(exponents)}")
            times = large_judged / _inspecting(shop)
            print(f"  judging one car {large_judged * 1e3:.1f} ms, {times:.2f} x reading and inspecting it")
            print(f"  memory so far: {memory():.0f} MB")
        inspect_all(place)
        carry(place, folder)
        with open_shop(place) as shop:
            start = time.perf_counter()
            found = check(shop)
            taken = time.perf_counter() - start
            print(f"  check of all of it: {taken:.0f} s, {len(found.problems)} problems; {memory():.0f} MB")
        print(f"\nThe web app on that shop of {CARS} cars")
        web_bench.main(place)


def _inspecting(shop: Shop) -> float:
    """Seconds of reading and inspecting one car, without a shop."""
    cars = [each.id for each in list_cars(shop, most=60)]
    benches = [shop.bench(each) for each in cars]
    start = time.perf_counter()
    for each in benches:
        with opened(each) as sheet:
            cw.inspect(sheet)
    return (time.perf_counter() - start) / len(benches)


if __name__ == "__main__":
    print(f"{os.cpu_count()} cores")
    main()
