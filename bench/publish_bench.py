"""Speed of publishing, beside the least the same tools can do in the same run.

Machines differ and are shared: quote the ratios. Baselines: for a page, the inspection written as JSON; for a print and
for cards, an empty page and an empty frame through the same typesetter with the same fonts. Causes, plans, dates and
what would flip the verdict belong to the inspection and are worked out beforehand, as for whoever has looked at it
once; what a report takes from a sheet nobody has looked at is given too. Every print bears another number, since the
typesetter remembers what it has set before.
"""

from __future__ import annotations

import itertools
import math
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import carwright as cw
from carwright.publish.document import as_json_text
from carwright.publish.report import report_html, report_pdf
from carwright.publish.report.content import Front, Report
from carwright.publish.report.printed import pages_pdf
from carwright.publish.scene import Scene, standalone_svg
from carwright.publish.theme import load_theme
from carwright.publish.typeset import pictures
from carwright.publish.video.frame import HEIGHT, WIDTH
from carwright.publish.video.overlays import overlay_files

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = [
    path for path in sorted((ROOT / "examples").glob("*.toml")) if not path.name.startswith(("club-", "stock-"))
]
DEMO = ROOT / "examples" / "ho-covered-hopper.toml"
NUMBERS = itertools.count()
FEW, MANY = 100, 1_000
"""Reports made in a row, for growth [-]."""


def middle_cpu(work: Callable[[], object], runs: int) -> float:
    """Middle CPU seconds of several runs after one to warm up."""
    work()
    taken = []
    for _ in range(runs):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return sorted(taken)[len(taken) // 2]


def looked_at(path: Path) -> cw.Inspection:
    """A car whose every lazy part has been worked out."""
    inspection = cw.inspect(cw.read_sheet(path))
    report_html(inspection, version="bench")
    return inspection


def memory() -> float:
    """Resident megabytes now."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def page(car: cw.Inspection) -> str:
    """A page of its own number."""
    return report_html(car, version="bench", digest=f"{next(NUMBERS):012d}")


def printed(car: cw.Inspection) -> bytes:
    """A print of its own number."""
    return report_pdf(car, version="bench", digest=f"{next(NUMBERS):012d}")


def reports(cars: list[cw.Inspection], count: int) -> float:
    """CPU seconds for so many reports, page and print, each of another sheet's digest."""
    start = time.process_time()
    for number in range(count):
        car = cars[number % len(cars)]
        page(car)
        printed(car)
    return time.process_time() - start


def measure() -> Iterator[str]:
    """Lines of figures."""
    cars = [looked_at(path) for path in EXAMPLES]
    demo = next(car for car in cars if car.history.folder and car.history.type == "covered hopper")
    theme = load_theme()

    written = middle_cpu(lambda: as_json_text(demo), 9)
    one_page = middle_cpu(partial(page, demo), 9)
    yield f"page of the demo car (HTML){'':<24} {one_page:7.3f} s CPU  {one_page / written:6.1f} x its JSON"
    pages = [middle_cpu(partial(page, car), 3) for car in cars]
    yield f"page, mean of the examples{'':<25} {sum(pages) / len(pages):7.3f} s CPU"

    blank = Report(Front("", "Blank", "", (), ()), (), (), "blank")
    empty = middle_cpu(lambda: pages_pdf(replace(blank, mark=f"blank {next(NUMBERS)}")), 9)
    one_print = middle_cpu(partial(printed, demo), 5)
    yield f"print of the demo car (PDF){'':<24} {one_print:7.3f} s CPU  {one_print / empty:6.1f} x an empty page"
    prints = [middle_cpu(partial(printed, car), 2) for car in cars]
    yield f"print, mean of the examples{'':<24} {sum(prints) / len(prints):7.3f} s CPU"

    start = time.process_time()
    fresh = cw.inspect(cw.read_sheet(DEMO))
    report_html(fresh, version="bench")
    yield f"sheet to page, nothing worked out before{'':<11} {time.process_time() - start:7.3f} s CPU"

    frame = standalone_svg(Scene(0.0, 0.0, WIDTH, HEIGHT, (), "blank", "card"), theme, "video")
    one = middle_cpu(lambda: pictures([frame], theme, width=WIDTH, height=HEIGHT, scale=1.0, what="bench"), 5)
    cards = middle_cpu(lambda: list(overlay_files(demo, theme)), 3)
    count = len(list(overlay_files(demo, theme))) // 2
    yield f"all {count} cards of the demo car{'':<22} {cards:7.3f} s CPU  {cards / one:6.1f} x an empty frame"

    few = reports(cars, FEW)
    before = memory()
    many = reports(cars, MANY)
    exponent = math.log(many / few) / math.log(MANY / FEW)
    yield f"{FEW:,} reports, page and print{'':<20} {few:7.2f} s CPU"
    gained = memory() - before
    yield f"{MANY:,} reports, page and print{'':<18} {many:7.2f} s CPU  growth {exponent:.3f}  {gained:+.0f} MB"


if __name__ == "__main__":
    for line in measure():
        print(line)
