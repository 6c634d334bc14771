"""All this room has to say of one car: when it can be right, what is wrong, what dates its evidence, its life."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from carwright.dates import Span, span_of
from carwright.history import History
from carwright.prototype.anachronism import Anachronism, anachronisms, best_year
from carwright.prototype.conflicts import Conflicts, conflicts_of
from carwright.prototype.evidence import Claim, Dating, Piece
from carwright.prototype.life import LifeLine, life_line
from carwright.prototype.reading import check_wanted, dated_for, epochs_in, model_at, pieces_of, setting_of
from carwright.prototype.record import Record, record_of, trust_of
from carwright.prototype.roster import as_pieces, lines_of, read_roster
from carwright.prototype.subject import Subject
from carwright.prototype.window import Window, window_of
from carwright.prototype.work import WorkList, work_list
from carwright.tables import Tables
from carwright.tables.dated_model import Dated, Epoch

if TYPE_CHECKING:
    from carwright.prototype.posterior import Posterior, Telling


MODEL_TRUST = 0.5
"""That what a model shows is right for its prototype, before anything is compared; judgement [-]."""


@dataclass(frozen=True)
class DatedPiece:
    """One piece of evidence and when it is from.

    Attributes
    ----------
    piece : Piece
        What was shown and claimed.
    posterior : Posterior
        Over months.
    tellings : tuple[Telling, ...]
        What speaks loudest, first.
    conflicts : Conflicts
        Where hard facts clash.
    window : Window
        Months the facts allow, without any weighing.
    """

    piece: Piece
    posterior: Posterior
    tellings: tuple[Telling, ...]
    conflicts: Conflicts
    window: Window

    def span(self) -> Span:
        """Months it can be from: the hard window and the picture's own claim where they agree, else what is left."""
        hard = Span(self.window.earliest, self.window.latest_hard) if self.window.hard else Span(None, None)
        for claim in self.piece.claims:
            if claim.about == "taken":
                hard = hard.common(claim.span) or hard
        if hard.first is None or hard.last is None:
            if self.posterior.reason:
                return hard
            inside, _ = self.posterior.interval(0.95)
            hard = hard.common(inside) or hard
        return hard


@dataclass(frozen=True)
class Portrayal:
    """What a car portrays, and when.

    Attributes
    ----------
    dated : Dated
        Rules that hold for it.
    pieces : tuple[Piece, ...]
        All of them, the model's own among them.
    models : tuple of Subject or None
        The model at each stage.
    wanted : Span or None
        Months it is wanted for.
    record : Record
        The prototype.
    claims : tuple[Claim, ...]
        Dates of its life, as the record has them.
    country : str
        For epochs.
    """

    dated: Dated
    pieces: tuple[Piece, ...]
    models: tuple[Subject | None, ...]
    wanted: Span | None
    record: Record
    claims: tuple[Claim, ...] = ()
    country: str = ""

    @property
    def empty(self) -> bool:
        """Whether there is nothing to say."""
        return not self.pieces and not self.record.facts and self.wanted is None

    def window(self, stage: int) -> Window | None:
        """The window of the model at a stage, None where nobody said what it shows."""
        return self._windows[stage]

    @cached_property
    def _windows(self) -> tuple[Window | None, ...]:
        return tuple(window_of(self.dated, model) if model is not None else None for model in self.models)

    def aim(self, stage: int) -> Span | None:
        """The wanted months where they are a year or less; of a longer stretch the year that suits the model best."""
        window = self.window(stage)
        if self.wanted is None or window is None:
            return self.wanted
        return best_year(window, self.wanted)

    def anachronisms(self, stage: int) -> list[Anachronism]:
        """What is not right in the months aimed at; none where none are wanted."""
        window, aim = self.window(stage), self.aim(stage)
        return anachronisms(window, aim, self.dated) if window is not None and aim is not None else []

    def epochs(self, stage: int) -> list[Epoch]:
        """Epochs of the country the model may stand in by sure sources."""
        window = self.window(stage)
        return epochs_in(span_of(window.hard), self.country, self.dated) if window is not None and window.hard else []

    def clashes(self, stage: int) -> Conflicts | None:
        """Where what the model shows clashes with itself; None where nobody said what it shows."""
        model = self.models[stage]
        if model is None:
            return None
        datings = tuple(Dating(name, month, MODEL_TRUST) for name, month in model.stencils.items())
        shown = tuple(replace(each, trust=min(each.trust, MODEL_TRUST)) for each in model.shown)
        own = replace(model, stencils={}, shown=shown, built=self.models_built(model))
        return conflicts_of(self.dated, Piece("the model", "model", own, datings, self.claims))

    @staticmethod
    def models_built(model: Subject) -> Span | None:
        """When the model says that it was built."""
        month = model.stencils.get("stencil.built")
        return Span(month, month) if month is not None else model.built

    @cached_property
    def work(self) -> WorkList | None:
        """The least work that makes the model as it stands last right in the wanted months."""
        model, aim = self.models[-1], self.aim(len(self.models) - 1)
        return work_list(self.dated, model, aim) if model is not None and aim is not None else None

    @cached_property
    def datings(self) -> tuple[DatedPiece, ...]:
        """Every piece of evidence but the model, dated."""
        return tuple(date(self.dated, piece, self.claims) for piece in self.pieces if piece.of != "model")

    @cached_property
    def life(self) -> LifeLine | None:
        """The life line; None without evidence and claims."""
        if not self.datings and not self.claims:
            return None
        pieces = [each.piece for each in self.datings]
        return life_line(self.dated, pieces, [each.span() for each in self.datings], self.claims, self.models[-1])


def date(dated: Dated, piece: Piece, claims: Sequence[Claim] = ()) -> DatedPiece:
    """One piece of evidence dated; claims of the record that say when the car was built are heard with its own."""
    from carwright.prototype.posterior import date_piece  # noqa: PLC0415 - NumPy is loaded only to date a picture

    told = tuple(each for each in claims if each.about == "built")
    heard = replace(piece, claims=(*piece.claims, *told))
    posterior, tellings = date_piece(dated, heard)
    return DatedPiece(
        heard, posterior, tuple(tellings), conflicts_of(dated, heard), window_of(dated, piece.as_of())
    )  # fmt: skip


def portrayal_of(history: History, tables: Tables, *, european: bool) -> Portrayal | None:
    """What a car portrays.

    Parameters
    ----------
    history : History
        With its evidence and what is said of its prototype.
    tables : Tables
        For the dated rules.
    european : bool
        Whether its sheet goes by European norms, where it names no country.

    Returns
    -------
    Portrayal or None
        None where the sheet says nothing of it, so that no rule is read.

    Raises
    ------
    CarwrightError
        When a file of the person's own, a feature or the wanted date cannot be used.
    """
    told = history.portrayed
    if not history.evidence and not any((told.statements, told.wanted, told.dated, told.roster)):
        return None
    dated = dated_for(told, tables, history.folder, european=european)
    setting = setting_of(history.type, told)
    pieces = pieces_of(history.evidence, setting, dated)
    if told.roster:
        numbers = [each for each in told.statements if each.what == "number"]
        number = max(numbers, key=trust_of).value if numbers else ""
        lines = read_roster(Path(history.folder) / told.roster, dated)
        pieces += as_pieces(lines_of(lines, setting.owner, number), setting, told.roster)
    claims = tuple(
        Claim(each.what.replace("_", " "), each.span, trust_of(each), each.value, each.source or "the record")
        for each in told.statements
        if each.span is not None
    )
    return Portrayal(
        dated=dated,
        pieces=tuple(pieces),
        models=tuple(model_at(history, pieces, stage.number, dated) for stage in history.stages),
        wanted=check_wanted(told, dated),
        record=record_of(told.statements),
        claims=claims,
        country=told.country,
    )
