"""``carwright date``: when a car can be right, when its pictures are from, and what clashes."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import click

from carwright.errors import NothingToDateError
from carwright.files import write_whole
from carwright.inspection import words_of
from carwright.prototype.portrayal import Portrayal, portrayal_of
from carwright.tables import shipped
from carwright.tables.dated import dated_of, with_own
from carwright.units import System


@click.command("date")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout.")
@click.option("--wanted", default="", metavar="DATE", help="A year, month or epoch, before the file's own.")
@click.option(
    "--rules", "own", multiple=True, type=click.Path(path_type=Path), help="Dated rules of your own, for a roster."
)
@click.option("--csv", "out", type=click.Path(path_type=Path), help="Write the roster, or the evidence, with results.")
def command(file: Path, *, as_json: bool, wanted: str, own: tuple[Path, ...], out: Path | None) -> None:
    """Date FILE: an evidence file (or a bench sheet) of one car, or a roster of many in CSV."""
    if file.suffix.casefold() == ".csv":
        _roster(file, as_json=as_json, wanted=wanted, own=own, out=out)
        return
    portrayal, title, ratio, system = _read(file, wanted)
    if out is not None:
        from carwright.publish.era_rows import evidence_text  # noqa: PLC0415 - loaded only when asked for

        write_whole(out, evidence_text(portrayal))
    if as_json:
        from carwright.publish.era_rows import date_document  # noqa: PLC0415

        document = date_document(portrayal, title, ratio, system, portrayal.datings)
        click.echo(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))
        return
    from carwright.cli.show_era import show_portrayal  # noqa: PLC0415

    show_portrayal(portrayal, len(portrayal.models) - 1, title, ratio, system)
    if out is not None:
        click.echo(f"\n{out}")


def _read(file: Path, wanted: str) -> tuple[Portrayal, str, float | None, System]:
    """What a file portrays, its title, its scale's ratio where it names one, and its units."""
    from carwright.history.evidence_file import read_evidence_file  # noqa: PLC0415
    from carwright.history.sheet import read_sheet  # noqa: PLC0415

    words = words_of(shipped())
    scaled = True
    if _is_sheet(file):
        sheet = read_sheet(file, words)
    else:
        sheet, scaled = read_evidence_file(file, words)
    history = sheet.history
    if wanted:
        history = replace(history, portrayed=replace(history.portrayed, wanted=wanted))
    portrayal = portrayal_of(history, shipped(), european="nem" in history.rules)
    if portrayal is None:
        raise NothingToDateError(str(file))
    return portrayal, history.title, history.scale.ratio if scaled else None, history.system


def _is_sheet(file: Path) -> bool:
    """Whether a file says that it is a bench sheet; what cannot be read is left to the reader to say."""
    try:
        head = file.read_text("utf-8-sig", errors="replace")
    except OSError:
        return False
    return 'format = "carwright-sheet/' in head or 'format="carwright-sheet/' in head


def _roster(file: Path, *, as_json: bool, wanted: str, own: tuple[Path, ...], out: Path | None) -> None:
    from carwright.cli.show_era import show_roster  # noqa: PLC0415
    from carwright.prototype.roster import judge_roster, read_roster, roster_text, want  # noqa: PLC0415

    dated = dated_of(shipped())
    for path in own:
        dated = with_own(dated, path, shipped())
    judged = list(judge_roster(want(read_roster(file, dated), wanted, dated), dated))
    if out is not None:
        write_whole(out, roster_text(judged))
    if as_json:
        from carwright.publish.era_rows import roster_rows  # noqa: PLC0415

        click.echo(json.dumps(roster_rows(judged), ensure_ascii=False, indent=1, allow_nan=False))
        return
    show_roster(judged)
    if out is not None:
        click.echo(f"\n{out}")
