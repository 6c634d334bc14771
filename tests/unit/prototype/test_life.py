"""The life line: one order for all evidence of one car."""

from __future__ import annotations

from collections.abc import Callable

from carwright.dates import Span, read_date, spans_words
from carwright.prototype.evidence import Claim, Dating, Piece
from carwright.prototype.life import LifeLine, life_line
from carwright.prototype.subject import Shown, Subject
from carwright.tables.dated_model import Dated

Shows = Callable[..., tuple[Shown, ...]]


def claim(about: str, words: str, trust: float = 0.8, source: str = "roster") -> Claim:
    return Claim(about, read_date(words), trust, words, source)


def photo(name: str, shown: tuple[Shown, ...] = (), number: str = "", claims: tuple[Claim, ...] = ()) -> Piece:
    return Piece(name, "photo", Subject("box", shown=shown), (), claims, number)


def line(
    dated: Dated, pieces: list[tuple[Piece, str]], claims: list[Claim], model: tuple[Shown, ...] | None = None
) -> LifeLine:
    spans = [read_date(words) for _, words in pieces]
    own = Subject("box", shown=model) if model is not None else None
    return life_line(dated, [piece for piece, _ in pieces], spans, claims, own)


def test_events_and_pictures_narrow_each_other(dated: Dated) -> None:
    life = line(dated, [(photo("one"), "1940..1950")], [claim("built", "1945..1960"), claim("last seen", "1948")])
    assert life.conflicts == ()
    events = {event.what: event.span.words() for event in life.events}
    assert events == {"built": "1945-01 to 1948-12", "last seen": "1948"} or events["built"] == "1945 to 1948"
    assert life.sights[0].span.words() == "1945 to 1948"


def test_what_changed_changed_between_two_pictures(dated: Dated, shows: Shows) -> None:
    first, second = (
        photo("early", shows("running-board.wood"), "4012"),
        photo("late", shows("running-board.none"), "9012"),
    )
    life = line(dated, [(second, "1971"), (first, "1958")], [claim("built", "1942-05")])
    assert [sight.piece.name for sight in life.sights] == ["early", "late"]
    changes = {event.what: event.span.words() for event in life.events if not event.claimed}
    assert changes == {
        "roof running board: wood running board → no running board": "1958 to 1971",
        "number: 4012 → 9012": "1958 to 1971",
    }
    assert spans_words(life.gaps) == "1942-06 to 1957-12 and 1959 to 1970"


def test_the_model_stands_nearest_to_what_it_differs_from_least(dated: Dated, shows: Shows) -> None:
    pieces = [
        (photo("early", shows("running-board.wood", "brake.K", "-aci-label")), "1950"),
        (photo("late", shows("running-board.none", "brake.AB", "aci-label")), "1971"),
    ]
    life = line(dated, pieces, [], shows("running-board.none", "brake.AB", "-aci-label"))
    assert life.represents == 1
    assert life.sights[1].agrees == ("roof running board", "brake system")
    assert life.sights[1].differs == (
        "automatic identification label: label of coloured bars (ACI), on the model none",
    )
    assert line(dated, pieces, [], None).represents is None
    assert line(dated, pieces, [], shows("truss-rods")).represents is None


def test_what_cannot_be_in_order_is_said(dated: Dated) -> None:
    life = line(dated, [(photo("one"), "1938")], [claim("built", "1942-05"), claim("last seen", "1940")])
    assert "photo 'one' (1938) comes before built (1942-05), and should come after it" in life.conflicts
    assert "last seen (1940) comes before built (1942-05), and should come after it" in life.conflicts


def test_the_most_trusted_claim_is_gone_by_and_the_rival_named(dated: Dated) -> None:
    rivals = [claim("built", "1942-05", 0.9, "builder list"), claim("built", "1944", 0.3, "a caption")]
    life = line(dated, [], rivals)
    assert [event.span.words() for event in life.events] == ["1942-05"]
    assert life.notes == ("built 1944 (a caption) is not used: builder list says 1942-05",)
    near = line(dated, [], [claim("built", "1942", 0.9, "builder list"), claim("built", "1942-05", 0.3, "a caption")])
    assert [event.span.words() for event in near.events] == ["1942-05"]
    assert near.events[0].by == "builder list; a caption"


def test_a_legible_stencil_goes_before_every_claim(dated: Dated) -> None:
    stencilled = Piece("close view", "photo", Subject("box"), (Dating("stencil.built", 23308),))
    life = line(dated, [(stencilled, "1950")], [claim("built", "1944", 0.99, "builder list")])
    assert next(event for event in life.events if event.what == "built").span == Span(23308, 23308)
    assert "is not used" in life.notes[0]


def test_a_stencil_that_was_hardly_read_does_not(dated: Dated) -> None:
    stencilled = Piece("far view", "photo", Subject("box"), (Dating("stencil.built", 23308, 0.4),))
    life = line(dated, [(stencilled, "1950")], [claim("built", "1944", 0.99, "builder list")])
    assert next(event for event in life.events if event.what == "built").span.words() == "1944"
