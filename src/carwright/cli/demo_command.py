"""``carwright demo``: an invented car, inspected and published."""

from __future__ import annotations

import shlex
import shutil
import sys
from pathlib import Path

import click

from carwright import inspect, read_sheet
from carwright.cli.report_command import write_report
from carwright.cli.show import show_inspection
from carwright.files import WriteError
from carwright.shop.demo import DEMO, example_sheets, examples_folder


@click.command("demo")
@click.option(
    "--dir", "folder", type=click.Path(path_type=Path), default=Path("demo"), show_default=True, help="Where to put it."
)
def command(folder: Path) -> None:
    """Make invented cars in a folder, inspect one, write a report of each, and say where they are.

    A sheet that is already there is left as it is, so that it may be changed and tried again.
    """
    source = examples_folder()
    try:
        for path in sorted(source.rglob("*")):
            target = folder / path.relative_to(source)
            if path.is_file() and not target.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(path, target)
    except OSError as error:
        raise WriteError(folder, f"cannot be written: {error.strerror or error}") from error
    show_inspection(inspect(read_sheet(folder / f"{DEMO}.toml")))
    reports = [
        write_report(read_sheet(sheet), folder / "reports", sheet.stem, formats=("html", "pdf"))[0]
        for sheet in (folder / path.name for path in example_sheets())
    ]
    demo = next(report for report in reports if report.stem == DEMO)
    click.echo(f"\nThe sheet is {folder / DEMO}.toml; its report is {demo.resolve()}")
    click.echo(f"Each is there as a page and as a PDF; {len(reports) - 1} more cars lie beside it.")
    click.echo("Every car, railroad and reading in them is invented.")
    again = _command()
    click.echo(f"Change a sheet and look again: {again} inspect {folder / DEMO}.toml")
    click.echo(f"Start your own: {again} new mine.toml --scale HO")


def _command() -> str:
    """How the person may call carwright from here: by name, by its path, or through this interpreter."""
    if shutil.which("carwright"):
        return "carwright"
    beside = Path(sys.executable).with_name("carwright")
    if not beside.exists():
        return shlex.join([sys.executable, "-m", "carwright"])
    near = beside.is_relative_to(Path.cwd())
    return shlex.quote(str(beside.relative_to(Path.cwd()) if near else beside))
