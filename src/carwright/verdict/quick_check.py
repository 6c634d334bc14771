"""Five minutes with a car at a swap table or out of a parcel: what was found, what it costs to cure, and what to offer.

Every figure of it is common practice or judgement, and is marked so; it decides whether to buy, never a verdict.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal, cast

from carwright.errors import TableError, UnknownNameError
from carwright.tables.load import read_toml
from carwright.tables.shape import check_shape
from carwright.words import Remedy

FORMAT = "carwright-quick/1"
Means = Literal["good", "cheap", "dear", "ends", "unknown"]
MEANS: tuple[Means, ...] = ("ends", "dear", "unknown", "cheap", "good")
"""Worst first."""
_FILE = {**dict.fromkeys(("format", "id", "title", "status"), "a text"), "check": "a list of tables"}
_NUMBER = "a number of zero or more"
_CHECK = {**dict.fromkeys(("id", "title", "look"), "a text"), "minutes": _NUMBER, "answers": "a list of tables"}
_ANSWER = {
    **dict.fromkeys(("id", "words", "means", "remedy", "why"), "a text"),
    "minutes": _NUMBER,
    "cost": _NUMBER,
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What may be found.

    Attributes
    ----------
    id, words : str
        Its name, and the sentence one ticks.
    means : str
        good, cheap, dear, ends or unknown.
    remedy : str
        The work that cures it, "" where none of the catalogue does.
    minutes, cost : float
        Bench time and parts where no remedy says so [min], [US dollars].
    why : str
        Why it means that.
    """

    id: str
    words: str
    means: Means
    remedy: str
    minutes: float
    cost: float
    why: str


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to look at."""

    id: str
    title: str
    look: str
    minutes: float
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class QuickCheck:
    """What to look at, in order."""

    id: str
    title: str
    status: str
    checks: tuple[Check, ...]

    @property
    def minutes(self) -> float:
        """How long all of it takes [min]."""
        return sum(check.minutes for check in self.checks)


@dataclass(frozen=True, slots=True)
class Cure:
    """A fault with its cure: the check, the answer, and what it takes."""

    check: Check
    answer: Answer
    words: str
    minutes: float
    cost: float
    risk: float


@dataclass(frozen=True, slots=True)
class Deal:
    """What was found, added up.

    Attributes
    ----------
    ends, unknown : tuple of (Check, Answer)
        What ends the deal, and what could not be seen.
    cures : tuple of Cure
        What is to be cured.
    open : tuple of Check
        What nobody has looked at yet.
    minutes, cost, risk : float
        Of all cures together [min], [US dollars], and the chance that one of them spoils something [-].
    offer : float or None
        What it is worth as it is, None where nobody said what a sound one is worth [US dollars].
    advice : str
        In a sentence.
    """

    ends: tuple[tuple[Check, Answer], ...]
    unknown: tuple[tuple[Check, Answer], ...]
    cures: tuple[Cure, ...]
    open: tuple[Check, ...]
    minutes: float
    cost: float
    risk: float
    offer: float | None
    advice: str


@lru_cache(maxsize=1)
def usual_check() -> QuickCheck:
    """The shipped one."""
    name = "rubrics/quick.toml"
    return read_quick_check(files("carwright.verdict").joinpath(name).read_text("utf-8"), name)


def read_quick_check(text: str, file: str) -> QuickCheck:
    """Read a quick check from its text.

    Raises
    ------
    TableError
        "<file>, check 2 (body), answer 1: means must be one of ends, dear, unknown, cheap, good, got 'bad'"
    """
    raw = read_toml(text, file)
    if raw.get("format") != FORMAT:
        raise TableError(file, f"format must be {FORMAT!r}, got {str(raw.get('format'))[:40]!r}")
    check_shape(raw, _FILE, file)
    checks = tuple(_check(row, f"{file}, check {number}") for number, row in enumerate(raw.get("check", []), 1))
    if not checks:
        raise TableError(file, "needs at least one [[check]]")
    ids = [check.id for check in checks]
    if len(set(ids)) < len(ids):
        raise TableError(file, "the id of a check stands twice")
    return QuickCheck(str(raw.get("id", "")), str(raw.get("title", "")), str(raw.get("status", "judgement")), checks)


def _check(row: Mapping[str, Any], place: str) -> Check:
    check_shape(row, _CHECK, place)
    for key in ("id", "title", "look", "answers"):
        if not row.get(key):
            raise TableError(place, f"needs {key}")
    answers = tuple(
        _answer(each, f"{place} ({row['id']}), answer {number}") for number, each in enumerate(row["answers"], 1)
    )
    ids = [each.id for each in answers]
    if len(set(ids)) < len(ids):
        raise TableError(f"{place} ({row['id']})", "the id of an answer stands twice")
    return Check(row["id"], row["title"], row["look"], float(row.get("minutes", 0.5)), answers)


def _answer(row: Mapping[str, Any], place: str) -> Answer:
    check_shape(row, _ANSWER, place)
    for key in ("id", "words", "means"):
        if not row.get(key):
            raise TableError(place, f"needs {key}")
    if row["means"] not in MEANS:
        raise TableError(place, f"means must be one of {', '.join(MEANS)}, got {row['means'][:20]!r}")
    return Answer(
        row["id"], row["words"], cast("Means", row["means"]), row.get("remedy", ""), float(row.get("minutes", 0)),
        float(row.get("cost", 0)), row.get("why", ""),
    )  # fmt: skip


def deal_of(
    quick: QuickCheck,
    found: Mapping[str, str],
    remedies: Mapping[str, Remedy],
    *,
    worth: float | None = None,
    asked: float | None = None,
    hour: float = 0.0,
) -> Deal:
    """Add up what was found.

    What it is worth as it is: a sound one, less the parts, less the bench time at what an hour is worth to its owner,
    less the share of a sound one that stands at risk while it is cured; judgement, in plain sums.

    Parameters
    ----------
    quick : QuickCheck
        What was looked at.
    found : mapping
        Id of the answer by id of the check.
    remedies : mapping
        The catalogue, for time, parts and risk.
    worth, asked : float, optional
        What a sound one is worth to the buyer, and what is asked [US dollars].
    hour : float
        What an hour at the bench is worth to the buyer, 0 for nothing [US dollars].

    Raises
    ------
    UnknownNameError
        "there is no answer 'x' to 'body'", "there is no check 'x'", "there is no remedy 'x'"
    """
    known = {check.id for check in quick.checks}
    for name in found:
        if name not in known:
            raise UnknownNameError("check", name)
    told: list[tuple[Check, Answer]] = []
    for check in quick.checks:
        if check.id in found:
            answer = next((each for each in check.answers if each.id == found[check.id]), None)
            if answer is None:
                raise UnknownNameError("answer", found[check.id], f" to {check.id!r}")
            told.append((check, answer))
    cures = tuple(_cure(check, answer, remedies) for check, answer in told if answer.means in {"cheap", "dear"})
    minutes, cost = sum(each.minutes for each in cures), sum(each.cost for each in cures)
    spared = 1.0
    for each in cures:
        spared *= 1 - each.risk
    offer = None if worth is None else max(0.0, worth - cost - minutes / 60 * hour - (1 - spared) * worth)
    ends = tuple(pair for pair in told if pair[1].means == "ends")
    unknown = tuple(pair for pair in told if pair[1].means == "unknown")
    left = tuple(check for check in quick.checks if check.id not in found)
    return Deal(ends, unknown, cures, left, minutes, cost, 1 - spared, 0.0 if ends and offer is not None else offer,
                _advice(ends, unknown, cures, left, offer, asked))  # fmt: skip


def _cure(check: Check, answer: Answer, remedies: Mapping[str, Remedy]) -> Cure:
    if answer.remedy and answer.remedy not in remedies:
        raise UnknownNameError("remedy", answer.remedy)
    remedy = remedies.get(answer.remedy)
    if remedy is None:
        return Cure(check, answer, answer.why or answer.words, answer.minutes, answer.cost, 0.0)
    return Cure(check, answer, remedy.title, remedy.effort, remedy.cost, remedy.risk)


def _advice(
    ends: Sequence[tuple[Check, Answer]],
    unknown: Sequence[tuple[Check, Answer]],
    cures: Sequence[Cure],
    left: Sequence[Check],
    offer: float | None,
    asked: float | None,
) -> str:
    if ends:
        return "leave it, or send it back: what ends the deal cannot be cured at the bench"
    if left:
        return f"not yet: {len(left)} of the things to look at {'is' if len(left) == 1 else 'are'} still open"
    doubt = "; look again where it could not be seen" if unknown else ""
    if offer is not None and asked is not None and round(asked, 2) > round(offer, 2):
        return f"offer {offer:.2f}: more is asked than it is worth as it is{doubt}"
    if offer is not None and asked is not None:
        return f"take it: {asked:.2f} is no more than it is worth as it is{doubt}"
    if any(each.answer.means == "dear" for each in cures):
        return f"only well below the price of a sound one: its cures are dear{doubt}"
    return f"take it at its price: {'what is wrong is cheap to cure' if cures else 'nothing was found wrong'}{doubt}"
