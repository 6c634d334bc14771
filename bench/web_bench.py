"""The web app on a shop of 10,000 cars and 400,000 entries: pages, a saved reading to its findings, memory, first page.

Times are those of whole requests over loopback by one client, so that they hold the server's own and a little more.
The baseline is a static file from the same server in the same run. ``python bench/web_bench.py [SHOP]`` asks a shop
that is there, or fills one first.
"""

from __future__ import annotations

import http.client
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode

from carwright.shop import open_shop
from carwright.shop.judging import judge_all, stale_cars

PATIENCE = 30.0
"""How long a server may take to start [s]."""
CALM = 0.02
"""Between two requests, so that nobody is asked to slow down [s]."""


class Client:
    """One browser's connection, with its cookies and its token."""

    def __init__(self, port: int) -> None:
        self._connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self._host, self._cookies = f"127.0.0.1:{port}", dict[str, str]()
        self.token = re.search(r'"token":"(\w+)"', self.get("/api/token")[1])[1]  # type: ignore[index]

    def get(self, path: str) -> tuple[float, str, str]:
        """Seconds, body, and where one was sent on to."""
        return self._ask("GET", path, "")

    def post(self, path: str, **fields: str) -> tuple[float, str, str]:
        """The same, for a form."""
        return self._ask("POST", path, urlencode({"token": self.token, **fields}))

    def _ask(self, method: str, path: str, body: str) -> tuple[float, str, str]:
        headers = {"Host": self._host, "Cookie": "; ".join(f"{name}={value}" for name, value in self._cookies.items())}
        if body:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        time.sleep(CALM)
        start = time.perf_counter()
        self._connection.request(method, path, body, headers)
        answer = self._connection.getresponse()
        text = answer.read().decode("utf-8")
        taken = time.perf_counter() - start
        for line in answer.headers.get_all("set-cookie") or []:
            name, _, rest = line.partition("=")
            self._cookies[name] = rest.partition(";")[0]
        if answer.status >= 400:  # noqa: PLR2004 - HTTP
            raise RuntimeError(f"{method} {path}: {answer.status} {text[:200]}")
        return taken, text, answer.headers.get("location", "")


@contextmanager
def serving(*words: str, home: str) -> Iterator[tuple[subprocess.Popen[str], int, float]]:
    """A server as a program: the process, its port, and when it was started."""
    own = {**os.environ, "XDG_DATA_HOME": home, "XDG_STATE_HOME": home}
    own.pop("CARWRIGHT_SHOP", None)
    start = time.perf_counter()
    command = [sys.executable, "-m", "carwright", "serve", "--port", "0", *words]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=own)  # noqa: S603 - our own command
    if process.stdout is None:
        raise RuntimeError(command)
    try:
        found = re.search(r":(\d+)\s*$", process.stdout.readline())
        if found is None:
            raise RuntimeError(f"{command} did not start")
        yield process, int(found[1]), start
    finally:
        process.terminate()
        process.wait(PATIENCE)
        process.stdout.close()


def first_page() -> tuple[float, float]:
    """Seconds from starting the program to the first page of the demo shop: where it is made, and where it is there."""
    with tempfile.TemporaryDirectory() as home:
        return _first(home), _first(home)


def _first(home: str) -> float:
    with serving(home=home) as (process, port, start):
        while time.perf_counter() - start < PATIENCE and process.poll() is None:
            try:
                client = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
                client.request("GET", "/")
                where = client.getresponse().headers["location"]
                client.close()
                client.request("GET", where)
                page = client.getresponse().read()
                if b'id="bench"' in page:
                    return time.perf_counter() - start
            except OSError:
                time.sleep(0.01)
    raise RuntimeError("the demo shop does not open")


def _imports() -> float:
    """Seconds of starting the interpreter and loading the libraries alone."""
    program = "import fastapi, uvicorn, sqlalchemy, numpy, jinja2, pydantic"
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", program], check=True)  # noqa: S603 - our own command
    return time.perf_counter() - start


def spread(action: Callable[[int], float], runs: int) -> tuple[float, float]:
    """Middle and 95th percentile of many runs [ms]."""
    taken = sorted(1000 * action(run) for run in range(runs))
    return taken[len(taken) // 2], taken[min(len(taken) - 1, int(0.95 * len(taken)))]


def measure(place: Path) -> None:
    """Ask a shop that is judged already."""
    with open_shop(place) as shop:
        cars = [each for each in shop.subjects() if len(each) == 36]  # noqa: PLR2004 - UUIDs
    dice = random.Random(7)  # noqa: S311 - which cars, no secrets
    dice.shuffle(cars)
    with tempfile.TemporaryDirectory() as home, serving("--shop", str(place), home=home) as (process, port, _):
        client = Client(port)
        for car in cars[:5]:
            client.get(f"/car/{car}")  # what is loaded when it is first asked for
        still, _ = spread(lambda _: client.get("/static/app.css")[0], 40)
        print(f"a static file, the baseline{'':<37} {still:7.2f} ms")

        def told(what: str, asked: str, action: Callable[[int], float], runs: int = 120) -> None:
            usual, worst = spread(action, runs)
            print(f"{what:<50} p50 {usual:7.1f} p95 {worst:7.1f} ms   {worst / still:6.1f} x a static file{asked}")

        pages = len(cars) // 40
        told(
            "list, any page of it",
            "   (asked: 60 ms)",
            lambda _: client.get(f"/cars?first={40 * dice.randrange(pages)}")[0],
        )
        told("list, found by words", "   (asked: 60 ms)", lambda run: client.get(f"/cars?words=tank+{run % 10}")[0])
        told("a car's page, each another car", "   (asked: 60 ms)", lambda run: client.get(f"/car/{cars[10 + run]}")[0])
        told("a car's page, the same again", "", lambda _: client.get(f"/car/{cars[10]}?spot=truck-A")[0])

        def saved(run: int) -> float:
            """One reading, and the page with what follows from it."""
            value = f"{dice.gauss(14.5, 0.03):.2f}"
            taken, _, where = client.post(
                f"/car/{cars[200 + run]}/entries", do="measure", spot="truck-A", what="wheel.back_to_back", at="1",
                value=value, unit="mm",
            )  # fmt: skip
            shown, page, _ = client.get(where)
            if f"at 1: {value} mm" not in page:
                raise RuntimeError("the reading is not on the page")
            return taken + shown

        told("a saved reading to the updated findings", "   (asked: 150 ms)", saved)
        would = f"/car/{cars[10]}/would?what=wheel.back_to_back&at=1&value=14.5&unit=mm"
        told("what a value would come to, while it is typed", "", lambda _: client.get(would)[0])
        status = Path(f"/proc/{process.pid}/status").read_text("utf-8")
        peak = re.search(r"VmHWM:\s+(\d+) kB", status)
        print(f"memory of the server at most{'':<36} {int(peak[1]) / 1024 if peak else 0:7.0f} MB   (asked: 300 MB)")


def main(place: Path | None = None) -> None:
    """Measure, filling a shop first where none is given."""
    made, there = (min(taken) for taken in zip(*(first_page() for _ in range(5)), strict=True))
    bare = min(_imports() for _ in range(5))
    print(f"loading the libraries it is made of, the baseline        {bare:6.2f} s")
    print(
        f"start to the first page, the demo shop made just then    {made:6.2f} s  {made / bare:5.1f} x   (asked: 1.5 s)"
    )
    print(f"start to the first page, the demo shop there before      {there:6.2f} s  {there / bare:5.1f} x")
    if place is not None:
        measure(place)
        return
    from shop_bench import CARS, fill  # noqa: PLC0415 - which calls this

    with tempfile.TemporaryDirectory() as folder:
        own = Path(folder) / "shop.db"
        with open_shop(own, create=True) as shop:
            fill(shop, 0, CARS)
            judge_all(shop, stale_cars(shop), jobs=os.cpu_count() or 1)
        measure(own)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
