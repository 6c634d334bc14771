"""Evidence and what is said of the prototype: dates, features and full-size dimensions read from what was written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from carwright.dates import EPOCH, read_date, read_wanted
from carwright.errors import DateError, UnitError
from carwright.history.entries import Claim, Dimension, EvidenceEntry, Prototype, WorkEntry
from carwright.history.records import Evidence, FullSize, Portrayed, Sighting, Stated, Statement
from carwright.units import parse
from carwright.words import nearest, plain

STATED = {"built": "built", "rebuilt": "rebuilt", "repainted": "repainted", "renumbered": "renumbered",
          "last_seen": "last seen"}  # fmt: skip
"""Keys of a piece of evidence that state a date of the car's life."""
DATES = ("built", "rebuilt", "repainted", "renumbered", "last_seen")
"""Keys of the prototype that are dates."""
_ROOT3 = 3**0.5
FEATURE_WORK = ("add-feature", "remove-feature", "restencil")
"""Remedies that name the feature they put on, take off or date."""
Problem = tuple[str, str]
"""Key and message."""


@dataclass(frozen=True, slots=True)
class Names:
    """Names a piece of evidence may use.

    Attributes
    ----------
    known : mapping
        Features, groups and stencils, by their names as :func:`carwright.words.plain` writes them.
    others : bool
        Whether a file of the person's own may define more, so that an unknown name is not yet a fault.
    """

    known: Mapping[str, str]
    others: bool = False

    def meant(self, name: str) -> str | None:
        """What a name means, itself where a file of the person's own may define it, None where nobody did."""
        own = self.others and not plain(name).startswith("stencil.")
        return self.known.get(plain(name), name if own else None)

    def fault(self, name: str) -> str:
        """What is wrong with a name nobody defined."""
        return f"nobody defined the feature {name!r}{nearest(name, set(self.known.values()))}"


def read_evidence(entry: EvidenceEntry, number: int, stage: int, names: Names) -> tuple[Evidence, list[Problem]]:
    """A piece of evidence, and everything wrong with it.

    Parameters
    ----------
    entry : EvidenceEntry
        As written.
    number, stage : int
        Its place in the file, counted from 1, and its stage.
    names : Names
        What it may show.
    """
    faults: list[Problem] = []
    seen = []
    for index, each in enumerate(entry.seen, 1):
        key = f"seen {index}"
        feature = names.meant(each.feature)
        month = None
        dated = feature is not None and feature.startswith("stencil.")
        if feature is None:
            faults.append((key, names.fault(each.feature)))
        elif dated and each.state == "present" and each.date is None:
            faults.append((key, f'{each.feature} needs the date it bears, such as date = "1953-04"'))
        elif dated and each.state != "present" and each.date is not None:
            faults.append((key, f"a stencil that is {each.state} bears no date"))
        elif not dated and each.date is not None:
            faults.append((key, f"only a stencil bears a date; {each.feature} is a feature"))
        elif each.date is not None:
            month, problem = _month(each.date)
            faults += [(key, problem)] if problem else []
        seen.append(Sighting(feature or each.feature, each.state, month, 1.0 if each.trust is None else each.trust))
    faults += [("seen", problem) for problem in _twice(seen)]
    stated = []
    for name, about in (("claim", "taken"), *STATED.items()):
        words = getattr(entry, name)
        if words is None:
            continue
        try:
            stated.append(Stated(about, read_date(words), words))
        except DateError as error:
            faults.append((name, str(error)))
    looked = read_date(entry.when[:10]).first if entry.when is not None else None
    read = Evidence(
        entry=number,
        stage=stage,
        of=entry.of,
        source=entry.source,
        seen=tuple(seen),
        stated=tuple(stated),
        trust=entry.trust,
        copies=entry.copies or "",
        number=entry.number or "",
        type=entry.type or "",
        use=entry.use or "",
        looked=looked,
    )
    faults += [("claim", problem) for problem in _late(read)]
    return read, faults


def _twice(seen: Sequence[Sighting]) -> Iterator[str]:
    """Features said to be there and not to be there, two of one group, and stencils with two dates."""
    told: dict[str, Sighting] = {}
    there: dict[str, str] = {}
    for each in seen:
        if told.setdefault(each.feature, each) is not each:
            yield f"{each.feature} stands twice"
        group, dot, _ = each.feature.partition(".")
        if dot and group != "stencil" and each.state == "present":
            first = there.setdefault(group, each.feature)
            if first != each.feature:
                yield f"{first} and {each.feature} exclude each other: a car shows one of them at most"


def _late(read: Evidence) -> Iterator[str]:
    """Claims of a date after the day somebody looked."""
    for each in read.stated:
        if read.looked is not None and each.span.first is not None and each.span.first > read.looked:
            yield f"{each.words!r} lies after {each.about} could be known: it was looked at before"


def _month(text: str) -> tuple[int | None, str]:
    """One month, or what is wrong."""
    try:
        span = read_date(text)
    except DateError as error:
        return None, str(error)
    if span.first is None or span.first != span.last:
        return None, f"a stencil bears a month, such as 1953-04; {text!r} is none"
    return span.first, ""


def read_feature_work(entry: WorkEntry, names: Names) -> tuple[str, int | None, list[Problem]]:
    """The feature of a work, the month a restencilling gives, and what is wrong with it."""
    if entry.remedy not in FEATURE_WORK:
        wrong = [key for key in ("feature", "date") if getattr(entry, key) is not None]
        return "", None, [(key, f"goes with {', '.join(FEATURE_WORK)}") for key in wrong]
    if entry.feature is None:
        return "", None, [("feature", f"{entry.remedy} needs the feature it is about")]
    feature = names.meant(entry.feature)
    if feature is None:
        return "", None, [("feature", names.fault(entry.feature))]
    stencil = feature.startswith("stencil.")
    if stencil != (entry.remedy == "restencil"):
        return "", None, [("feature", "restencil goes with a stencil, and a stencil with restencil")]
    if (entry.date is not None) != stencil:
        return "", None, [("date", "goes with restencil, and restencil needs it")]
    if entry.date is None:
        return feature, None, []
    month, problem = _month(entry.date)
    return feature, month, [("date", problem)] if problem else []


def read_portrayed(raw: Prototype) -> tuple[Portrayed, list[Problem]]:
    """What a sheet says of the prototype, and everything wrong with it."""
    faults: list[Problem] = []
    statements = []
    for what, claim in _claims(raw):
        span = None
        if what in DATES:
            try:
                span = read_date(str(claim.value))
            except DateError as error:
                faults.append((what, str(error)))
        trust, source = claim.trust, claim.source or ""
        statements.append(Statement(what, str(claim.value), source, trust, span))
    if raw.wanted and EPOCH.fullmatch(" ".join(raw.wanted.split())) is None:
        try:
            read_wanted(raw.wanted)
        except DateError as error:
            faults.append(("wanted", str(error)))
    dimensions = []
    for index, row in enumerate(raw.dimension, 1):
        read = _full_size(row)
        if isinstance(read, str):
            faults.append((f"dimension {index} ({row.name})", read))
        else:
            dimensions.append(read)
    names = [each.name for each in dimensions]
    faults += [("dimension", f"{name!r} stands twice") for name in sorted({n for n in names if names.count(n) > 1})]
    read_all = Portrayed(
        tuple(statements), tuple(dimensions), raw.wanted or "", raw.country or "", raw.use or "",
        tuple(raw.dated or ()), raw.roster or "",
    )  # fmt: skip
    return read_all, faults


def _claims(raw: Prototype) -> Iterator[tuple[str, Claim]]:
    """Every claim by what it is about; a plain fact is a claim without a source."""
    for name in ("owner", "class_", "number", "series", "quantity", "builder", "capacity", *DATES):
        fact = getattr(raw, name)
        if fact is None:
            continue
        listed = fact if isinstance(fact, list) else [fact]
        for each in listed:
            yield name.rstrip("_"), each if isinstance(each, Claim) else Claim(value=each)


USUAL_PHOTO = 0.02
"""Standard uncertainty of a dimension scaled from a photograph that states none, as a part of it; judgement [-]."""


def _full_size(row: Dimension) -> FullSize | str:
    """A full-size dimension: without a stated uncertainty, its last written place speaks, or a photograph's usual."""
    try:
        value = parse(row.value, "length")
        u = parse(row.u, "length").value if row.u is not None else None
    except UnitError as error:
        return str(error)
    if value.value <= 0:
        return f"must be above zero, got {row.value!r}"
    if u is not None and u <= 0:
        return f"u must be above zero, got {row.u!r}"
    if u is None:
        digits = value.last_place / 2 / _ROOT3
        u = max(digits, USUAL_PHOTO * value.value) if row.of == "photo" else digits
    return FullSize(row.name, value.value, u, row.of, row.source or "", row.over_scale or "", row.value)
