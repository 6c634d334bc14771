"""The web app under test: within the process for quick questions, as a program of its own for a real browser."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import carwright as cw
from carwright.shop import Given, Shop
from carwright.web.app import make_app
from carwright.web.desk import Desk
from carwright.web.door import Door
from carwright.web.guard.pairing import Keys

KEYS = Keys("a-secret-for-tests-only-0123456789")
HOPPER = Path("examples/ho-covered-hopper.toml")
_STARTS = 20.0
"""How long a server may take to say where it is [s]."""


@contextmanager
def visited(
    shop: Shop, *, peer: str = "127.0.0.1", door: Door | None = None, is_demo: bool = False
) -> Iterator[TestClient]:
    """A client of an app for a shop, in this process; redirects are not followed."""
    door = door or Door(KEYS)
    app = make_app(Desk(shop, is_demo=is_demo), door)
    with TestClient(app, base_url=door.url(), client=(peer, 50000), follow_redirects=False) as client:
        yield client


def with_hopper(shop: Shop) -> str:
    """The id of the invented hopper, which is in the shop then."""
    return shop.add([Given(cw.read_sheet(HOPPER), HOPPER.parent)])[0].addition.car


def token(client: TestClient) -> str:
    """What a form of this client's session sends back."""
    return str(client.get("/api/token").json()["token"])


def sent(client: TestClient, path: str, **fields: str) -> object:
    """A form sent as our own pages send it."""
    return client.post(path, data={"token": token(client), **fields})


class Server:
    """``carwright serve`` as a program, on a free port, with folders of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        own = {**os.environ, "XDG_DATA_HOME": str(folder / "data"), "XDG_STATE_HOME": str(folder / "state")}
        own.pop("CARWRIGHT_SHOP", None)
        self._words = [sys.executable, "-m", "carwright", "serve", *words]
        self._own, self.port = own, 0
        self.process = self._start(0)

    def _start(self, port: int) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [*self._words, "--port", str(port)],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=self._own,
        )
        assert process.stdout is not None
        told = []
        until = time.monotonic() + _STARTS
        while time.monotonic() < until:
            line = process.stdout.readline()
            told.append(line)
            found = re.search(r"(https?)://[\w.]+:(\d+)$", line.strip())
            if found is not None:
                self.scheme, self.port = found[1], int(found[2])
                self._wait(process)
                return process
            if not line and process.poll() is not None:
                break
        process.kill()
        pytest.fail(f"the server did not start: {''.join(told)}")

    def _wait(self, process: subprocess.Popen[str]) -> None:
        """Until it answers: it says where it is a moment before."""
        import socket  # noqa: PLC0415 - for this alone

        until = time.monotonic() + _STARTS
        while time.monotonic() < until and process.poll() is None:
            try:
                with socket.create_connection(("127.0.0.1", self.port), 0.5) as found:
                    found.sendall(b"GET /static/app.css HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
                    if found.recv(9).startswith(b"HTTP") or self.scheme == "https":
                        return
            except OSError:
                time.sleep(0.02)
        pytest.fail("the server does not answer")

    @property
    def url(self) -> str:
        """Where it is."""
        return f"{self.scheme}://127.0.0.1:{self.port}"

    def code(self) -> str:
        """The pairing code it prints for other devices."""
        assert self.process.stdout is not None
        while line := self.process.stdout.readline():
            found = re.search(r"with the code (\w+)", line)
            if found is not None:
                return found[1]
        pytest.fail("the server prints no code")

    def stop(self) -> None:
        """End it, as Ctrl-C does."""
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(10)
        if self.process.stdout is not None:
            self.process.stdout.close()

    def start_again(self) -> None:
        """The same, at the same address."""
        self.process = self._start(self.port)
