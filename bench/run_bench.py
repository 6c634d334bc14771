"""Speed of the main job, each figure beside a baseline measured in the same run.

Machines differ and are shared: quote the ratios. Baselines: starting the interpreter and importing the two libraries a
sheet cannot do without (for a cold start), parsing the same TOML (for a warm car), the smaller batch (for growth).
"""

from __future__ import annotations

import math
import os
import random
import re
import resource
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import dating_bench
import explain_bench
import minimum_zone_bench
import publish_bench
import shop_bench

import carwright as cw

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = [
    path for path in sorted((ROOT / "examples").glob("*.toml")) if not path.name.startswith(("club-", "stock-"))
]


def cpu_of(command: list[str]) -> float:
    """User and system seconds of one command, children included."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT)  # noqa: S603 - our own commands
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def median(values: list[float]) -> float:
    """The middle one."""
    return sorted(values)[len(values) // 2]


def cold(name: str, sheet: Path, baseline: float, runs: int = 7) -> None:
    """Command start to finished JSON."""
    command = [sys.executable, "-m", "carwright", "inspect", str(sheet), "--json"]
    cpu_of(command)
    taken = median([cpu_of(command) for _ in range(runs)])
    print(f"cold start to JSON, {name:<38} {taken:6.3f} s CPU   {taken / baseline:5.1f} x bare imports")


def warm(name: str, text: str, folder: str, runs: int = 60) -> float:
    """One car in a running process, from text to inspection."""
    cw.inspect(cw.read_sheet_text(text, folder=folder))
    start = time.process_time()
    for _ in range(runs):
        cw.inspect(cw.read_sheet_text(text, folder=folder))
    taken = (time.process_time() - start) / runs
    start = time.process_time()
    for _ in range(runs):
        tomllib.loads(text)
    parsing = (time.process_time() - start) / runs
    print(f"warm, {name:<52} {taken * 1e3:6.2f} ms CPU  {taken / parsing:5.1f} x parsing its TOML")
    return taken


def memory() -> float:
    """Resident megabytes now."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def varied(text: str, number: int) -> str:
    """The sheet of another car: another title, and another last digit in every reading, so that no cache helps."""
    digits = random.Random(number)  # noqa: S311 - readings, no secrets
    lines = [
        re.sub(r"(\d+\.\d*)\d( \w+\")", lambda match: f"{match[1]}{digits.randrange(10)}{match[2]}", line)
        if line.startswith("values = ")
        else line
        for line in text.splitlines()
    ]
    return "\n".join(lines).replace('title = "', f'title = "{number} ', 1)


def batch(count: int) -> tuple[float, float]:
    """CPU seconds and megabytes gained for many different sheets in one process."""
    texts = [path.read_text("utf-8") for path in EXAMPLES]
    before, start = memory(), time.process_time()
    for number in range(count):
        text = varied(texts[number % len(texts)], number)
        cw.inspect(cw.read_sheet_text(text, folder=str(ROOT / "examples")))
    return time.process_time() - start, memory() - before


def well_known(text: str) -> str:
    """The same sheet with instruments tried hundreds of times, so that no value has few degrees of freedom."""
    lines = [line for line in text.splitlines() if not line.startswith("repeatability_n")]
    return "\n".join(
        f"{line}\nrepeatability_n = 400" if line.startswith("repeatability = ") else line for line in lines
    )


def main() -> None:
    """Measure everything and print it."""
    bare = [sys.executable, "-c", "import click, pydantic"]
    cpu_of(bare)
    baseline = median([cpu_of(bare) for _ in range(7)])
    print(f"baseline: interpreter, click and pydantic {baseline:.3f} s CPU")
    folder = ROOT / "artefacts"
    folder.mkdir(exist_ok=True)
    tried = folder / "well-known.toml"
    tried.write_text(well_known((ROOT / "examples" / "ho-boxcar.toml").read_text("utf-8")), "utf-8")
    cold("many degrees of freedom", tried, baseline)
    cold("tabled instruments", ROOT / "examples" / "n-gondola.toml", baseline)
    cold("gauges, stages, derived (the demo)", ROOT / "examples" / "ho-covered-hopper.toml", baseline)
    cold("gauges with a prior", ROOT / "examples" / "s-flat-car.toml", baseline)
    print()
    warm("many degrees of freedom (ho-boxcar)", tried.read_text("utf-8"), str(folder))
    total = 0.0
    for path in EXAMPLES:
        total += warm(path.stem, path.read_text("utf-8"), str(path.parent))
    print(f"warm, mean of the examples {total / len(EXAMPLES) * 1e3:36.2f} ms CPU")
    print()
    small, large = 1000, 10_000
    first, grown_small = batch(small)
    second, grown_large = batch(large)
    exponent = math.log(second / first) / math.log(large / small)
    print(f"{small:,} sheets in one process  {first:7.2f} s CPU  {grown_small:+5.1f} MB")
    print(
        f"{large:,} sheets in one process {second:7.2f} s CPU  {grown_large:+5.1f} MB  growth exponent {exponent:.3f}"
    )

    print()
    for line in (
        *explain_bench.measure(),
        *dating_bench.measure(),
        *minimum_zone_bench.measure(),
        *publish_bench.measure(),
    ):
        print(line)
    shop_bench.main()


if __name__ == "__main__":
    main()
