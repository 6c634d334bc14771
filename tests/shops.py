"""Small sheets, and a PostgreSQL of our own, for tests of the shop."""

from __future__ import annotations

import itertools
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

import psycopg
import pytest

import carwright as cw
from carwright.shop import Given

SHEET = """format = "carwright-sheet/1"
[car]
title = "{title}"
scale = "HO"
[car.geometry]
body_length = "5.35 in"
[[entry]]
kind = "reading"
what = "coupler.height"
at = "A"
values = ["0.412 in"]
[[entry]]
kind = "look"
what = "part"
name = "stirrup step"
at = "B"
grade = "slight"
"""


def given(title: str = "Hopper, Tansy River 1", more: str = "", text: str = SHEET) -> Given:
    """A small sheet."""
    return Given(cw.read_sheet_text(text.format(title=title) + more))


class Cluster:
    """A PostgreSQL of our own, in a folder of its own, on the loopback."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="carwright-pg-", dir="/tmp"))
        self.port = _free_port()
        self._numbers = itertools.count(1)
        if os.geteuid() == 0:
            owner = pwd.getpwnam("postgres")
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
        data = str(self.folder / "data")
        self._run("initdb", "-D", data, "-A", "trust", "-U", "postgres", "-E", "UTF8", "--locale=C", "--no-sync")
        self.start()

    def _run(self, program: str, *arguments: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """A program of PostgreSQL's, never as root, which it refuses."""
        command = [_program(program), *arguments]
        if os.geteuid() == 0:
            command = ["runuser", "-u", "postgres", "--", *command]
        return subprocess.run(command, check=check, cwd="/", capture_output=True, text=True)

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1"
        log = str(self.folder / "log")
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-l", log, "-o", options, "-w", "start")

    def stop(self, how: str = "immediate") -> None:
        """Stop it; ``immediate`` is as if the power went."""
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-m", how, "-w", "stop", check=False)

    def url(self, name: str = "postgres") -> str:
        """Address of a database."""
        return f"postgresql://postgres@127.0.0.1:{self.port}/{name}"

    def sql(self, statement: str, database: str = "postgres") -> None:
        """Run one statement."""
        with psycopg.connect(self.url(database), autocommit=True) as connection:
            connection.execute(statement)

    def fresh(self, template: str = "template1") -> str:
        """Address of a new database."""
        name = f"shop{next(self._numbers)}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.url(name)

    def remove(self) -> None:
        """Stop it for good."""
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)


def _program(name: str) -> str:
    places = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    found = str(places[-1]) if places else shutil.which(name)
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail(f"{name} of Debian's package postgresql is not there")
        pytest.skip(f"{name} of Debian's package postgresql is not there")
    return found


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
