"""The order of a car's entries, the same for everybody who holds the same writings."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field


@dataclass(slots=True)
class Placed:
    """Where an entry belongs.

    Attributes
    ----------
    first : tuple[int, str, int]
        When it was first recorded: clock, writing and place in it.
    after, before : set[str]
        Ids of entries it was put behind, and in front of.
    """

    first: tuple[int, str, int]
    after: set[str] = field(default_factory=set)
    before: set[str] = field(default_factory=set)


def in_written_order(placed: Mapping[str, Placed]) -> list[str]:
    """Ids in the order in which they were written down.

    Every entry stands behind what it was put behind; among those that may come next, the one recorded first does, so
    that what one person wrote in one go stays together. Where people put entries in contradicting orders, the one
    recorded first goes before. What an entry refers to and is not here binds nothing.
    """
    behind: dict[str, set[str]] = {identity: {each for each in spot.after if each in placed and each != identity}
                                   for identity, spot in placed.items()}  # fmt: skip
    for identity, spot in placed.items():
        for later in spot.before:
            if later in behind and later != identity:
                behind[later].add(identity)
    followers: dict[str, list[str]] = {identity: [] for identity in placed}
    for identity, earlier in behind.items():
        for each in earlier:
            followers[each].append(identity)
    waiting = {identity: len(earlier) for identity, earlier in behind.items()}
    ready = _heap(placed, (identity for identity, count in waiting.items() if not count))
    stuck = _heap(placed, placed)
    order: list[str] = []
    done: set[str] = set()
    while len(order) < len(placed):
        heap = ready or stuck
        _, identity = heapq.heappop(heap)
        if identity in done:
            continue
        done.add(identity)
        order.append(identity)
        for each in followers[identity]:
            waiting[each] -= 1
            if not waiting[each] and each not in done:
                heapq.heappush(ready, (placed[each].first, each))
    return order


def _heap(placed: Mapping[str, Placed], ids: Iterable[str]) -> list[tuple[tuple[int, str, int], str]]:
    heap = [(placed[identity].first, identity) for identity in ids]
    heapq.heapify(heap)
    return heap
