"""The interface for programs keeps to its own description, whatever is sent: Schemathesis on the OpenAPI schema."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import requests
import schemathesis
import uvicorn
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from webapp import KEYS, with_hopper

from carwright.shop import open_shop
from carwright.web.app import make_app
from carwright.web.desk import Desk
from carwright.web.door import Door
from carwright.web.guard.rates import Buckets
from carwright.web.serve import listen


@dataclass
class Running:
    """An app that listens in this process, with one car, and a session of it."""

    url: str
    car: str
    session: requests.Session


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    shop = open_shop(tmp_path_factory.mktemp("schema") / "shop.db", create=True)
    car = with_hopper(shop)
    heard = listen("127.0.0.1", 0)
    door = Door(KEYS, port=heard.getsockname()[1])
    app = make_app(Desk(shop), door, Buckets(1e9, 1e9))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", access_log=False, ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [heard]}, daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started and thread.is_alive() and time.monotonic() < until:
        time.sleep(0.01)
    with requests.Session() as session:
        session.headers["x-carwright-token"] = session.get(f"{door.url()}/api/token", timeout=10).json()["token"]
        yield Running(door.url(), car, session)
    server.should_exit = True
    thread.join(20)
    heard.close()


CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
OPERATIONS = ("GET /api/token", "GET /api/cars", "GET /api/cars/{car}", "POST /api/cars/{car}/entries",
              "POST /api/cars/{car}/typed")  # fmt: skip


@pytest.mark.parametrize("operation", OPERATIONS)
def test_every_answer_is_as_described(operation: str, running: Running) -> None:
    method, path = operation.split(" ")
    described = schemathesis.openapi.from_url(f"{running.url}/api/openapi.json")[path][method]

    @settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(case=described.as_strategy())
    def ask(case: Any) -> None:  # noqa: ANN401 - its type is generic over what no test needs
        car = str((case.path_parameters or {}).get("car", ""))
        if car and int(car[:1], 16) % 2:  # half of what is asked is asked of a car that is there
            case.path_parameters["car"] = running.car
        case.call_and_validate(session=running.session, checks=CHECKS)

    ask()


def test_the_description_names_every_path_for_programs(running: Running) -> None:
    paths = running.session.get(f"{running.url}/api/openapi.json", timeout=10).json()["paths"]
    assert set(paths) == {
        "/api/token",
        "/api/cars",
        "/api/cars/{car}",
        "/api/cars/{car}/entries",
        "/api/cars/{car}/typed",
    }
    assert not any(Path(path).suffix for path in paths)
