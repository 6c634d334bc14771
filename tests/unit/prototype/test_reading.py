"""From a sheet to what it portrays: stages, works on features, countries, epochs, rosters."""

from __future__ import annotations

from pathlib import Path

import pytest

import carwright as cw
from carwright.dates import Span, iso, month_of, spans_words
from carwright.errors import DateError, TableError, UnknownNameError
from carwright.prototype.portrayal import Portrayal, portrayal_of
from carwright.prototype.reading import epoch_of, epochs_in, wanted_of
from carwright.tables import shipped
from carwright.tables.dated_model import Dated

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "Test"\nscale = "HO"\ntype = "boxcar"\n'
MODEL = '[[entry]]\nkind = "evidence"\nof = "model"\nsource = "the model"\nseen = [{}]\n'


def portrayal(text: str, folder: str = "", *, european: bool = False) -> Portrayal:
    found = portrayal_of(cw.read_sheet_text(text, folder=folder).history, shipped(), european=european)
    assert found is not None
    return found


def shown(found: Portrayal, stage: int) -> dict[str, str]:
    model = found.models[stage]
    assert model is not None
    return {each.feature: each.state for each in model.shown}


def test_a_sheet_that_says_nothing_portrays_nothing() -> None:
    assert portrayal_of(cw.read_sheet_text(HEAD).history, shipped(), european=False) is None
    assert cw.inspect(cw.read_sheet_text(HEAD)).portrayal is None


def test_works_put_features_on_and_take_them_off() -> None:
    text = HEAD + MODEL.format('{feature = "brake.K"}, {feature = "aci-label"}') + (
        '[[entry]]\nkind = "work"\nremedy = "add-feature"\nfeature = "brake.AB"\n'
        '[[entry]]\nkind = "work"\nremedy = "remove-feature"\nfeature = "ACI"\n'
    )  # fmt: skip
    found = portrayal(text)
    assert shown(found, 0) == {"brake.K": "present", "aci-label": "present"}
    assert shown(found, 1) == {"aci-label": "present", "brake.AB": "present"}
    assert shown(found, 2) == {"brake.AB": "present", "aci-label": "absent"}


def test_a_feature_taken_off_leaves_the_others_of_its_group(dated: Dated) -> None:
    text = HEAD + MODEL.format('{feature = "reflectors.sheeting"}')
    text += '[[entry]]\nkind = "work"\nremedy = "remove-feature"\nfeature = "reflectors"\n'
    states = shown(portrayal(text), 1)
    assert states["reflectors"] == "absent"
    assert dated.group_of["reflectors"].id == "reflectors"


def test_a_first_look_after_a_work_on_a_feature_says_nothing_of_the_car_before() -> None:
    text = HEAD + '[[entry]]\nkind = "work"\nremedy = "add-feature"\nfeature = "aci-label"\n'
    found = portrayal(text + MODEL.format('{feature = "brake.K"}'))
    assert found.models[0] is None
    assert shown(found, 1)["brake.K"] == "present"


def test_a_later_look_replaces_what_was_said_of_the_same_group() -> None:
    text = HEAD + MODEL.format('{feature = "running board.wood"}, {feature = "aci-label", state = "absent"}')
    text += '[[entry]]\nkind = "work"\nremedy = "washer"\nat = "A"\namount = "0.010 in"\n'
    text += MODEL.format('{feature = "running-board.metal"}')
    found = portrayal(text)
    assert shown(found, 0) == {"running-board.wood": "present", "aci-label": "absent"}
    assert shown(found, 1) == {"aci-label": "absent", "running-board.metal": "present"}


def test_a_first_look_after_a_work_speaks_for_the_car_as_received() -> None:
    text = HEAD + '[[entry]]\nkind = "work"\nremedy = "washer"\nat = "A"\namount = "0.010 in"\n'
    found = portrayal(text + MODEL.format('{feature = "brake.K"}'))
    assert shown(found, 0) == shown(found, 1) == {"brake.K": "present"}


def test_a_restencilled_date_counts_from_its_stage() -> None:
    text = HEAD + MODEL.format('{feature = "stencil.weighed", date = "1955-03"}')
    text += '[[entry]]\nkind = "work"\nremedy = "restencil"\nfeature = "stencil.weighed"\ndate = "1957-01"\n'
    found = portrayal(text)
    weighed = [model.stencils["stencil.weighed"] for model in found.models if model is not None]
    assert [iso(month) for month in weighed] == ["1955-03", "1957-01"]


def test_a_believed_claim_says_when_the_car_was_built() -> None:
    text = HEAD + '[car.prototype]\nbuilt = [{value = "1948-05", trust = 0.9}, {value = "1944", trust = 0.2}]\n'
    window = portrayal(text + MODEL.format('{feature = "brake.AB"}')).window(0)
    assert window is not None
    assert iso(window.earliest) == "1948-05"
    doubted = portrayal(text.replace("0.9", "0.3") + MODEL.format('{feature = "brake.AB"}')).window(0)
    assert doubted is not None
    assert iso(doubted.earliest) == "1925-01"


def test_american_rules_do_not_bind_a_european_car() -> None:
    text = HEAD + MODEL.format('{feature = "brake.K"}')
    european = portrayal(text, european=True).window(0)
    german = portrayal(text + '[car.prototype]\ncountry = "D"\nwanted = "IVb"\n')
    assert european is not None
    assert spans_words(european.hard) == "any month"
    assert german.wanted == Span(month_of(1970, 1), month_of(1980, 12))
    american = portrayal(text + '[car.prototype]\ncountry = "US"\n', european=True).window(0)
    assert american is not None
    assert spans_words(american.hard) == "until 1953-06"


def test_epochs_by_name_and_by_months(dated: Dated) -> None:
    epoch = epoch_of("epoch III", "D", dated)
    assert epoch is not None
    assert (epoch.first, epoch.last) == (1949, 1970)
    for words, country in (("V", "A"), ("EU V", "D"), ("ep. v", "")):
        general = epoch_of(words, country, dated)
        assert general is not None
        assert general.title == "Europe in general (NEM 800)"
    small = epoch_of("Epoche ivb", "germany", dated)
    assert small is not None
    assert (small.country, small.name) == ("D", "IVb")
    assert epoch_of("1957", "D", dated) is None
    with pytest.raises(DateError, match="no epoch of that name was seen in the norm; known of D: I, Ia, Ib"):
        epoch_of("IX", "D", dated)
    assert [each.name for each in epochs_in(Span(month_of(1966, 1), month_of(1967, 1)), "D", dated)] == ["III", "IV"]
    with pytest.raises(DateError, match="a wanted date has a first and a last month"):
        wanted_of("after 1950", "", dated)
    assert wanted_of("", "", dated) is None


@pytest.mark.parametrize(("written", "american"), [("USA", True), ("Canada", True), ("Germany", False), ("ch", False)])
def test_a_country_may_be_called_by_its_name(written: str, american: bool) -> None:  # noqa: FBT001 - what is expected
    found = portrayal(
        HEAD + f'[car.prototype]\ncountry = "{written}"\n' + MODEL.format('{feature = "brake.K"}')
    ).window(0)
    assert found is not None
    assert spans_words(found.hard) == ("until 1953-06" if american else "any month")


def test_a_country_nobody_knows_is_refused() -> None:
    with pytest.raises(TableError, match=r"country: 'Germny' is not known; known: US, CA, .*did you mean 'germany'"):
        portrayal(HEAD + '[car.prototype]\ncountry = "Germny"\n' + MODEL.format('{feature = "brake.K"}'))


def test_of_a_long_wanted_time_the_year_that_suits_best_is_judged() -> None:
    stencils = '{feature = "stencil.built", date = "1955-03"}, {feature = "stencil.weighed", date = "1957-04"}'
    found = portrayal(HEAD + MODEL.format(stencils) + '[car.prototype]\nwanted = "1950s"\n')
    aim = found.aim(0)
    assert aim is not None
    assert aim.words() == "1958"
    assert found.anachronisms(0) == []
    assert found.work is not None
    assert found.work.changes == ()
    short = portrayal(HEAD + MODEL.format(stencils) + '[car.prototype]\nwanted = "1956-03"\n')
    assert short.aim(0) == short.wanted


def test_the_record_and_the_model_may_clash() -> None:
    text = HEAD + '[car.prototype]\nbuilt = {value = "1926-05", trust = 0.9}\n'
    found = portrayal(text + MODEL.format('{feature = "stencil.built", date = "1930-03"}')).clashes(0)
    assert found is not None
    assert [{fact.name for fact in clash.facts} for clash in found.clashes] == [{"stencil.built", "claim.built"}]
    assert [fact.name for fact in found.doubts[0].facts] == ["stencil.built"]


def test_of_a_model_and_its_record_the_model_is_doubted() -> None:
    text = HEAD + '[car.prototype]\nbuilt = {value = "1948", trust = 0.9}\n'
    seen = '{feature = "underframe.wood"}, {feature = "draft-sill.wood"}, {feature = "truck.arch-bar"}'
    found = portrayal(text + MODEL.format(seen)).clashes(0)
    assert found is not None
    assert {fact.name for fact in found.doubts[0].facts} == {"underframe.wood", "draft-sill.wood", "truck.arch-bar"}


def test_a_model_of_a_car_that_is_gone_is_doubtful_later() -> None:
    text = HEAD + '[car.prototype]\nlast_seen = "1951"\nwanted = "1957"\n'
    [each] = portrayal(text + MODEL.format('{feature = "brake.AB"}')).anachronisms(0)
    assert (each.name, each.judged) == ("last seen", "doubtful")


@pytest.mark.parametrize("wanted", ["after 1950", "1957-13"])
def test_a_wanted_date_that_is_none_names_its_line(wanted: str) -> None:
    with pytest.raises(cw.SheetError, match=r":7: car, prototype, wanted: cannot read"):
        portrayal(HEAD + f'[car.prototype]\nwanted = "{wanted}"\n')


def test_an_epoch_no_norm_has_names_its_place() -> None:
    with pytest.raises(TableError, match="wanted: cannot read"):
        portrayal(HEAD + '[car.prototype]\nwanted = "IX"\n')


OWN = """
format = "carwright-dated/1"
[[group]]
id = "paint"
title = "paint"
where = "sides"
states = [{ id = "brown", title = "brown paint" }, { id = "green", title = "green paint" }]
[[rule]]
feature = "paint.green"
event = "first seen"
date = "1954-04"
source = "drawing 1123"
strength = "practice"
confidence = "high"
"""


def test_features_of_ones_own_stand_beside_the_sheet(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(OWN, "utf-8")
    text = HEAD + MODEL.format('{feature = "paint.green"}') + '[car.prototype]\ndated = ["own.toml"]\n'
    window = portrayal(text, str(tmp_path)).window(0)
    assert window is not None
    assert spans_words(window.hard) == "from 1954-04"
    assert "own.toml" in window.bounds[0].marks
    with pytest.raises(UnknownNameError, match=r"there is no feature 'paint.blue' \(entry 1\); did you mean 'paint"):
        portrayal(text.replace("paint.green", "paint.blue"), str(tmp_path))


def test_a_work_on_a_feature_nobody_defined_is_refused_too(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(OWN, "utf-8")
    text = HEAD + '[car.prototype]\ndated = ["own.toml"]\n' + MODEL.format('{feature = "paint.green"}')
    text += '[[entry]]\nkind = "work"\nremedy = "add-feature"\nfeature = "paint.blue"\n'
    with pytest.raises(UnknownNameError, match=r"there is no feature 'paint.blue' \(entry 2\); did you mean 'paint"):
        portrayal(text, str(tmp_path))


def test_files_beside_the_sheet_stay_beside_it() -> None:
    for path in ("../own.toml", "/etc/passwd", "c:own.toml"):
        with pytest.raises(cw.SheetError, match="must lie beside the sheet or in a folder below it"):
            cw.read_sheet_text(HEAD + f'[car.prototype]\ndated = ["{path}"]\n')


def test_roster_lines_of_the_car_are_evidence(tmp_path: Path) -> None:
    (tmp_path / "roster.csv").write_text(
        "owner,number,built,rebuilt,last_seen,source\n"
        "Tansy River,4012,1942-05,,1961,roster of 1950\n"
        "Quillback,4012,1911,,,another road\n"
        "Tansy River,4013,1942-05,,,next car\n",
        "utf-8",
    )
    text = HEAD + '[car.prototype]\nowner = "Tansy River"\nnumber = "4012"\nroster = "roster.csv"\n'
    found = portrayal(text, str(tmp_path))
    assert [piece.name for piece in found.pieces] == ["roster of 1950"]
    life = found.life
    assert life is not None
    assert {event.what: event.span.words() for event in life.events} == {"built": "1942-05", "last seen": "1961"}


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ('seen = [{feature = "brake.KB"}]', "nobody defined the feature 'brake.KB'; did you mean 'brake.K'"),
        ('seen = [{feature = "stencil.weighed"}]', "stencil.weighed needs the date it bears"),
        (
            'seen = [{feature = "stencil.weighed", date = "1957"}]',
            "a stencil bears a month, such as 1953-04; '1957' is none",
        ),
        ('seen = [{feature = "stencil.weighed", date = "1957-13"}]', "there is no month 13"),
        ('seen = [{feature = "brake.K", date = "1957-01"}]', "only a stencil bears a date; brake.K is a feature"),
        (
            'seen = [{feature = "brake.K"}, {feature = "brake.K", state = "absent"}]',
            "brake.K stands twice",
        ),
        ('seen = [{feature = "truck.arch-bar"}, {feature = "truck.cast-u"}]', "exclude each other"),
        ('seen = [{feature = "brake.K"}, {feature = "brake.K"}]', "brake.K stands twice"),
        ('seen = [{feature = "stencil.built", state = "absent", date = "1950-01"}]', "that is absent bears no date"),
        ('claim = "yesterday"', "cannot read 'yesterday' as a date"),
        ('built = "1957-02-30"', "there is no such day"),
        ('when = "2026-01-05"\nclaim = "2027"', "lies after"),
        ('of = "rumour"', "is not known: expected"),
        ("trust = 1.5", "less than or equal to 1"),
    ],
)
def test_evidence_that_is_not_as_it_must_be_says_why(entry: str, says: str) -> None:
    with pytest.raises(cw.SheetError, match=says):
        cw.read_sheet_text(HEAD + f'[[entry]]\nkind = "evidence"\nsource = "photo"\n{entry}\n')


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ('remedy = "add-feature"', "add-feature needs the feature it is about"),
        ('remedy = "add-feature"\nfeature = "brake.KB"', "nobody defined the feature 'brake.KB'"),
        ('remedy = "add-feature"\nfeature = "stencil.weighed"', "restencil goes with a stencil"),
        ('remedy = "restencil"\nfeature = "brake.K"', "restencil goes with a stencil"),
        ('remedy = "restencil"\nfeature = "stencil.weighed"', "restencil needs it"),
        ('remedy = "restencil"\nfeature = "stencil.weighed"\ndate = "1957"', "a stencil bears a month"),
        ('remedy = "washer"\nat = "A"\namount = "0.010 in"\nfeature = "brake.K"', "goes with add-feature"),
    ],
)
def test_works_on_features_that_are_not_as_they_must_be_say_why(entry: str, says: str) -> None:
    with pytest.raises(cw.SheetError, match=says):
        cw.read_sheet_text(HEAD + f'[[entry]]\nkind = "work"\n{entry}\n')


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ('name = "x"\nvalue = "40"', "cannot read '40'"),
        ('name = "body.widht"\nvalue = "9 ft"', "unknown characteristic 'body.widht'; did you mean 'body.width'"),
        ('name = "x"\nvalue = "0 in"', "must be above zero"),
        ('name = "x"\nvalue = "40 ft"\nu = "0 in"', "u must be above zero"),
        ('name = "x"\nvalue = "40 ft"\n[[car.prototype.dimension]]\nname = "x"\nvalue = "41 ft"', "'x' stands twice"),
    ],
)
def test_full_size_dimensions_that_are_not_as_they_must_be_say_why(row: str, says: str) -> None:
    with pytest.raises(cw.SheetError, match=says):
        cw.read_sheet_text(HEAD + f"[[car.prototype.dimension]]\n{row}\n")


def test_a_prototype_date_that_is_none_says_why() -> None:
    with pytest.raises(cw.SheetError, match="car, prototype, built: cannot read 'long ago' as a date"):
        cw.read_sheet_text(HEAD + '[car.prototype]\nbuilt = "long ago"\n')
