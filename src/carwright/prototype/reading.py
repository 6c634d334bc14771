"""From a history to pieces of evidence: the model at a stage, and every picture, drawing and roster line beside it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

from carwright.dates import EPOCH, Span, month_of, read_wanted
from carwright.errors import DateError, TableError, UnknownNameError
from carwright.history import Evidence, History
from carwright.history.records import Portrayed, Work
from carwright.prototype.evidence import Claim, Dating, Piece
from carwright.prototype.record import trust_of
from carwright.prototype.subject import Shown, State, Subject, Use
from carwright.prototype.window import BELIEVED
from carwright.tables import Tables
from carwright.tables.dated import dated_of, with_own
from carwright.tables.dated_model import Dated, Epoch
from carwright.words import kind_of, nearest

AMERICA = ("US", "CA", "MX")
"""Countries whose cars the shipped rules are about."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What all pieces of one car share.

    Attributes
    ----------
    type, owner, car_class : str
        As the sheet says.
    use : str
        Interchange where it says nothing.
    built, rebuilt, last_seen : Span or None
        From the most trusted claim of the record.
    """

    type: str = ""
    owner: str = ""
    car_class: str = ""
    use: Use = "interchange"
    built: Span | None = None
    rebuilt: Span | None = None
    last_seen: Span | None = None

    def subject(self, kind: str = "", use: str = "") -> Subject:
        """A subject of this car that shows nothing yet."""
        return Subject(
            kind=kind_of(kind or self.type),
            use=cast("Use", use or self.use),
            owner=self.owner,
            car_class=self.car_class,
            built=self.built,
            rebuilt=self.rebuilt,
            last_seen=self.last_seen,
        )


def setting_of(car_type: str, portrayed: Portrayed) -> Setting:
    """The setting a sheet gives."""

    def best(what: str) -> tuple[str, Span | None]:
        own = [each for each in portrayed.statements if each.what == what and trust_of(each) >= BELIEVED]
        if not own:
            return "", None
        told = max(own, key=trust_of)
        return told.value, told.span

    use = cast("Use", portrayed.use or "interchange")
    dates = [best(what)[1] for what in ("built", "rebuilt", "last_seen")]
    return Setting(car_type, best("owner")[0], best("class")[0], use, *dates)


def dated_for(portrayed: Portrayed, tables: Tables, folder: str, *, european: bool) -> Dated:
    """The dated rules for a car: the shipped ones where it is North American, and the person's own.

    Raises
    ------
    TableError
        When a file of the person's own cannot be used.
    """
    dated = dated_of(tables)
    country = country_of(portrayed.country)
    foreign = country not in AMERICA if country else european
    if foreign:
        dated = _without_rules(dated)
    for path in portrayed.dated:
        dated = with_own(dated, Path(folder) / path, tables)
    return dated


_FOREIGN: dict[int, Dated] = {}


def _without_rules(dated: Dated) -> Dated:
    """Features and stencils without the rules of one continent; made once, so that books are kept."""
    if id(dated) not in _FOREIGN:
        _FOREIGN[id(dated)] = replace(dated, region="", rules=(), intervals=(), ages=())
    return _FOREIGN[id(dated)]


def pieces_of(evidence: Iterable[Evidence], setting: Setting, dated: Dated) -> list[Piece]:
    """Every piece of evidence, in the order of the file.

    Raises
    ------
    UnknownNameError
        "there is no feature 'paint.blue' (entry 3); did you mean 'paint.brown'?"
    """
    return [_piece(each, setting, dated) for each in evidence]


def _piece(each: Evidence, setting: Setting, dated: Dated) -> Piece:
    shown: list[Shown] = []
    datings: list[Dating] = []
    hidden: list[str] = []
    for sighting in each.seen:
        if sighting.feature not in dated.names:
            hint = f" (entry {each.entry}){nearest(sighting.feature, dated.names)}"
            raise UnknownNameError("feature", sighting.feature, hint)
        if sighting.state == "not visible":
            hidden.append(sighting.feature)
        elif sighting.month is not None:
            datings.append(Dating(sighting.feature, sighting.month, sighting.trust))
        elif sighting.feature in dated.group_of:
            shown.append(Shown(sighting.feature, cast("State", sighting.state), sighting.trust, each.source))
    trust = dated.weights.claim_trust if each.trust is None else each.trust
    told = {stated.about: stated.span for stated in each.stated if trust >= BELIEVED}
    claims = tuple(
        Claim(stated.about, stated.span, trust, stated.words, each.source, each.copies) for stated in each.stated
    )
    return Piece(
        name=each.source,
        of=each.of,
        subject=_told(replace(setting.subject(each.type, each.use), shown=tuple(shown)), told),
        datings=tuple(datings),
        claims=claims,
        number=each.number,
        hidden=tuple(hidden),
        until=each.looked,
        entry=each.entry,
        stage=each.stage,
    )


def _told(subject: Subject, told: Mapping[str, Span]) -> Subject:
    """A subject with what its own piece of evidence says of its building and rebuilding."""
    return replace(
        subject, built=told.get("built", subject.built), rebuilt=told.get("rebuilt", subject.rebuilt)
    )  # fmt: skip


def model_at(history: History, pieces: Sequence[Piece], stage: int, dated: Dated) -> Subject | None:
    """The model as it stood at a stage: what was seen last stands, and works put features on and take them off.

    What was first seen later speaks for earlier stages too, as far as no work on features lies between.
    """
    own = [piece for piece in pieces if piece.of == "model"]
    if not own:
        return None
    works = [work for work in history.works if work.feature and work.stage <= stage]
    first = min(piece.stage for piece in own)
    if any(stage < work.stage <= first for work in history.works if work.feature):
        return None
    known = [piece for piece in own if piece.stage <= max(stage, first)]
    subject: Subject | None = None
    steps: list[tuple[int, int, Piece | Work]] = [(piece.stage, 1, piece) for piece in known]
    steps += [(work.stage, 0, work) for work in works if work.stage > first or stage >= first]
    for _, _, step in sorted(steps, key=lambda each: (each[0], each[1])):
        if isinstance(step, Work):
            subject = _worked(subject, step, dated) if subject is not None else None
        else:
            subject = _seen(subject, step)
    return subject


def _seen(subject: Subject | None, piece: Piece) -> Subject:
    """A subject with what a later look shows: what is said last of a thing stands."""
    fresh = piece.as_of()
    if subject is None:
        return fresh
    shown = list(subject.shown)
    for each in fresh.shown:
        group = each.feature.partition(".")[0]
        whole = each.state == "present" or each.feature == group
        shown = [
            other
            for other in shown
            if (other.feature.partition(".")[0] != group if whole else other.feature not in {each.feature, group})
        ]
        shown.append(each)
    return replace(fresh, shown=tuple(shown), stencils={**subject.stencils, **fresh.stencils})


def _worked(subject: Subject, work: Work, dated: Dated) -> Subject:
    if work.month is not None:
        return replace(subject, stencils={**subject.stencils, work.feature: work.month})
    if work.feature not in dated.group_of:
        hint = f" (entry {work.entry}){nearest(work.feature, dated.names)}"
        raise UnknownNameError("feature", work.feature, hint)
    group = dated.group_of[work.feature].id
    state: State = "present" if work.remedy == "add-feature" else "absent"
    rest = [
        each
        for each in subject.shown
        if (dated.group_of[each.feature].id != group if state == "present" else each.feature != work.feature)
    ]
    return replace(subject, shown=(*rest, Shown(work.feature, state, 1.0, f"work, entry {work.entry}")))


def wanted_of(words: str, country: str, dated: Dated) -> Span | None:
    """The months a model is wanted for: a date, or an epoch of the European norms.

    Raises
    ------
    DateError
        "cannot read 'IX' as a date: ...", or where the date is open to one side.
    """
    if not words:
        return None
    epoch = epoch_of(words, country, dated)
    if epoch is not None:
        return Span(month_of(max(epoch.first, 1800), 1), month_of(min(epoch.last, 2100), 12))
    return read_wanted(words)


def epoch_of(words: str, country: str, dated: Dated) -> Epoch | None:
    """The epoch a name means: ``III``, ``epoch IIIb``, ``D III``; None where it is no name of an epoch.

    Raises
    ------
    DateError
        Where it looks like one, and no norm seen has it.
    """
    found = EPOCH.fullmatch(" ".join(words.split()))
    if found is None:
        return None
    named, name = found[1] or "", found[2].upper() + found[3].casefold()
    places = [named.upper()] if named else [country_of(country), "EU"]
    for each in places:
        for epoch in dated.epochs:
            if epoch.country == each and epoch.name == name:
                return epoch
    known = ", ".join(epoch.name for epoch in dated.epochs if epoch.country == places[0]) or "none"
    raise DateError(words, f"no epoch of that name was seen in the norm; known of {places[0] or 'no country'}: {known}")


_COUNTRIES = {
    "US": ("usa", "united states", "u.s.", "u.s.a."), "CA": ("canada",), "MX": ("mexico",),
    "D": ("de", "germany", "deutschland"), "A": ("at", "austria"), "CH": ("switzerland",), "DK": ("denmark",),
    "F": ("fr", "france"), "EU": ("europe",),
}  # fmt: skip
"""Countries whose rules or epochs are known, and how else they are called."""


def country_of(words: str) -> str:
    """The sign of a country, "" where none is named.

    Raises
    ------
    TableError
        "country: 'Germny' is not known; known: US, CA, MX, D, A, CH, DK, F, EU; did you mean 'germany'?"
    """
    if not words:
        return ""
    for sign, names in _COUNTRIES.items():
        if words.casefold() in {sign.casefold(), *names}:
            return sign
    hint = nearest(words, [name for names in _COUNTRIES.values() for name in names])
    guess = hint if "did you mean" in hint else ""
    raise TableError("country", f"{words!r} is not known; known: {', '.join(_COUNTRIES)}{guess}")


def epochs_in(span: Span, country: str, dated: Dated) -> list[Epoch]:
    """Whole epochs of a country that share a month with a span."""
    found = []
    for epoch in dated.epochs:
        if epoch.country == country_of(country) and epoch.name.isupper():
            years = Span(month_of(max(epoch.first, 1), 1), month_of(epoch.last, 12))
            if years.meets(span):
                found.append(epoch)
    return found


def check_wanted(portrayed: Portrayed, dated: Dated) -> Span | None:
    """The wanted months of a sheet, with its place in the error where they cannot be read.

    Raises
    ------
    TableError
        "wanted: cannot read ..."
    """
    try:
        return wanted_of(portrayed.wanted, portrayed.country, dated)
    except DateError as error:
        raise TableError("wanted", str(error)) from error
