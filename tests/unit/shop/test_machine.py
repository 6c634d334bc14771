"""Shops against plain sets: whatever is done in whatever order, a shop holds what a model of a few lines holds."""

from __future__ import annotations

import itertools
import shutil
import tempfile
from pathlib import Path
from typing import Any, ClassVar

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from shops import Cluster, given

from carwright.history.undo import UndoError
from carwright.shop import Shop, open_shop
from carwright.shop.backup import back_up
from carwright.shop.canonical import canonical
from carwright.shop.checking import DISPUTED, check
from carwright.shop.judging import judge_all, stale_cars
from carwright.shop.listing import list_cars
from carwright.shop.merging import export_zip, merge_shop, merge_zip

NAMES = ("one", "two", "three")
Model = dict[str, dict[str, Any]]
"""By car: its title, bodies by id, ids superseded, and every report ever stated with what it replaced."""


def empty(title: str) -> dict[str, Any]:
    return {"title": title, "entries": {}, "reports": {}}


def union(into: Model, other: Model) -> None:
    for car, known in other.items():
        mine = into.setdefault(car, empty(known["title"]))
        mine["entries"].update(known["entries"])
        mine["reports"].update(known["reports"])


class ShopMachine(RuleBasedStateMachine):
    """Three shops, and what each should hold."""

    place: ClassVar[Any]

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="carwright-"))
        self.numbers = itertools.count(1)
        self.shops: dict[str, Shop] = {}
        self.models: dict[str, Model] = {}

    def _name(self) -> str:
        return str(next(self.numbers))

    @initialize()
    def start(self) -> None:
        for name in NAMES:
            self.shops[name] = open_shop(type(self).place(self.folder, name), create=True)
            self.models[name] = {}

    def _car(self, name: str, pick: int) -> str:
        cars = sorted(self.models[name])
        return cars[pick % len(cars)]

    def _has(self, name: str) -> bool:
        return bool(self.models.get(name))

    which = st.sampled_from(NAMES)
    pick = st.integers(0, 99)

    @rule(name=which)
    def add(self, name: str) -> None:
        title = f"Car {self._name()}"
        added = self.shops[name].add([given(title)])[0]
        state = self.shops[name].state(added.addition.car)
        model = self.models[name][added.addition.car] = empty(title)
        model["entries"] = {each.id: each.content() for each in state.entries}
        assert len(model["entries"]) == 2

    @rule(name=which, pick=pick, text=st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=30))
    def append(self, name: str, pick: int, text: str) -> None:
        if not self._has(name):
            return
        car = self._car(name, pick)
        body = {"kind": "note", "note": f"{self._name()} {text}"}
        identity = self.shops[name].append(car, [body], who=name)[0]
        self.models[name][car]["entries"][identity] = body

    @rule(name=which, pick=pick, which_entry=pick)
    def correct(self, name: str, pick: int, which_entry: int) -> None:
        if not self._has(name):
            return
        car = self._car(name, pick)
        ids = sorted(self.models[name][car]["entries"])
        body = {"kind": "note", "note": f"corrected {self._name()}", "supersedes": ids[which_entry % len(ids)]}
        identity = self.shops[name].append(car, [body])[0]
        self.models[name][car]["entries"][identity] = body

    @rule(name=which, pick=pick, which_entry=pick)
    def undo(self, name: str, pick: int, which_entry: int) -> None:
        if not self._has(name):
            return
        car = self._car(name, pick)
        entries = self.models[name][car]["entries"]
        target = sorted(entries)[which_entry % len(entries)]
        if any(body.get("supersedes") == target for body in entries.values()):
            with pytest.raises(UndoError):
                self.shops[name].undo(car, target)
            return
        made = self.shops[name].undo(car, target)
        corrected = entries.get(entries[target].get("supersedes"))
        body = self.shops[name].state(car).entry(made).content()  # type: ignore[union-attr]
        assert body["supersedes"] == target
        if corrected is None:
            assert body["kind"] == "note"
        else:
            assert {**corrected, "supersedes": target} == body
        entries[made] = body

    @rule(name=which, pick=pick)
    def report(self, name: str, pick: int) -> None:
        if not self._has(name):
            return
        car, value = self._car(name, pick), self._name()
        self.shops[name].revise(car, "report", {"by": value})
        reports = self.models[name][car]["reports"]
        reports[value] = set(self._heads(reports))

    @staticmethod
    def _heads(reports: dict[str, set[str]]) -> set[str]:
        replaced = set().union(*reports.values()) if reports else set()
        return set(reports) - replaced

    @rule(into=which, other=which)
    def merge(self, into: str, other: str) -> None:
        if into != other:
            merge_shop(self.shops[into], self.shops[other])
            union(self.models[into], self.models[other])

    @rule(into=which, other=which)
    def carry(self, into: str, other: str) -> None:
        path = self.folder / f"{self._name()}.zip"
        export_zip(self.shops[other], path)
        merge_zip(self.shops[into], path)
        union(self.models[into], self.models[other])

    @rule(name=which)
    def reopen(self, name: str) -> None:
        self.shops[name].close()
        self.shops[name] = open_shop(self.shops[name].address)

    @rule(name=which)
    def judge(self, name: str) -> None:
        judge_all(self.shops[name], stale_cars(self.shops[name]))
        assert all(each.known and not each.fault for each in list_cars(self.shops[name]))

    @precondition(lambda self: bool(self.shops))
    @rule(name=which)
    def back_up(self, name: str) -> None:
        path = self.folder / f"{self._name()}.db"
        back_up(self.shops[name], path)
        with open_shop(path) as copy:
            self._same(copy, self.models[name])

    @invariant()
    def shops_hold_what_the_models_do(self) -> None:
        for name, shop in self.shops.items():
            self._same(shop, self.models[name])

    def _same(self, shop: Shop, model: Model) -> None:
        assert {each.id: each.title for each in list_cars(shop)} == {car: each["title"] for car, each in model.items()}
        for car, known in model.items():
            state = shop.state(car)
            assert {each.id: each.content() for each in state.entries} == known["entries"]
            heads = self._heads(known["reports"])
            by = state.stated.get("report", {}).get("by")
            assert by in heads if heads else by is None
            assert len(heads) < 2 or any(fork.key == "report" for fork in state.forks)
            sheet = shop.sheet(car)
            gone = {body["supersedes"] for body in known["entries"].values() if "supersedes" in body}
            stands = [body["note"] for identity, body in known["entries"].items()
                      if body["kind"] == "note" and identity not in gone]  # fmt: skip
            assert sorted(sheet.history.notes) == sorted(stands)

    def teardown(self) -> None:
        try:
            if self.shops:
                self._all_orders_give_one_shop()
        finally:
            for shop in self.shops.values():
                shop.close()
            shutil.rmtree(self.folder)

    def _all_orders_give_one_shop(self) -> None:
        exports = set()
        for order in (NAMES, NAMES[::-1], (*NAMES[1:], *NAMES)):
            place = self.folder / f"{self._name()}.db"
            with open_shop(place, create=True) as shop:
                for name in order:
                    merge_shop(shop, self.shops[name])
                found = check(shop)
                assert {each.kind for each in found.problems} <= {DISPUTED}
                path = place.with_suffix(".zip")
                export_zip(shop, path)
                sheets = [canonical(shop.sheet(car).history.notes) for car in shop.subjects()]
                exports.add((path.read_bytes(), *sheets))
        assert len(exports) == 1


STEPS = settings(
    max_examples=12, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True
)


def test_shops_in_files() -> None:
    class InFiles(ShopMachine):
        place = staticmethod(lambda folder, name: str(folder / f"shop-{name}.db"))

    run_state_machine_as_test(InFiles, settings=STEPS)


def test_shops_in_postgresql(cluster: Cluster) -> None:
    class InPostgresql(ShopMachine):
        place = staticmethod(lambda _folder, _name: cluster.fresh())

    run_state_machine_as_test(InPostgresql, settings=settings(STEPS, max_examples=6, stateful_step_count=15))
