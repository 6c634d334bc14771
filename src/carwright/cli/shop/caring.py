"""``carwright shop check`` and ``carwright shop upgrade``: whether all of it is there, and of this version."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from carwright.cli.shop.options import count, opened, place, progress
from carwright.errors import SHOWN_AT_MOST
from carwright.shop import address_of, upgrade_shop
from carwright.shop.checking import DAMAGED, DISPUTED, FAULTY, NOTED, Checked, check
from carwright.shop.faults import DamagedError
from carwright.shop.opening import list_anew
from carwright.shop.rescue import rescue

_ONE = {"cars": "car", "entries": "entry", "writings": "writing", "files": "file"}
_HEADS = {
    DAMAGED: "Damaged, or gone", FAULTY: "Makes no good sheet, or lags behind",
    DISPUTED: "Disputed: said in more than one way", NOTED: "Worth knowing",
}  # fmt: skip


@click.command("check")
@click.option("--rescue", "target", type=click.Path(path_type=Path), metavar="FILE.zip",
              help="Save what a damaged shop still holds, as an export.")  # fmt: skip
@click.option("--renew", is_flag=True, help="List every car anew first, from what is recorded.")
@click.option("--strict", is_flag=True, help="Exit status 1 when something is damaged or makes no good sheet.")
@click.option("--all", "everything", is_flag=True, help="Show every line, however many.")
@place
def check_(*, target: Path | None, renew: bool, strict: bool, everything: bool, place: str) -> None:
    """Look through the shop: every digest, every history, every photo. Nothing is changed."""
    if target is not None:
        _rescue(place, target)
        return
    with opened(place) as shop, progress("checking") as tell:
        if renew:
            list_anew(shop)
        found = check(shop, tell)
    show(found, everything=everything)
    if found.of(DAMAGED):
        click.echo(
            "Damaged: keep the shop as it is, look for a backup, and see `carwright shop check --rescue FILE.zip`."
        )
    if strict and (found.of(DAMAGED) or found.of(FAULTY)):
        sys.exit(1)


def show(found: Checked, *, everything: bool) -> None:
    """What was looked at, and what was found, by kind."""
    counts = ", ".join(count(number, _ONE[what]) for what, number in found.counts.items())
    click.echo(f"{counts}: {'all is well' if not found.problems else 'see below'}")
    for kind, head in _HEADS.items():
        problems = found.of(kind)
        if not problems:
            continue
        click.echo(f"{head}: {len(problems)}")
        shown = problems if everything else problems[:SHOWN_AT_MOST]
        for each in shown:
            click.echo(f"  {each.where}: {each.what}")
        if len(shown) < len(problems):
            click.echo(f"  and {len(problems) - len(shown)} more (--all shows them)")


def _rescue(place: str, target: Path) -> None:
    address = address_of(place)
    if address.path is not None and not address.path.exists():
        raise DamagedError(address, "there is no such file")
    saved = rescue(address, target)
    parts = ((saved.records, "record"), (saved.writings, "writing"), (saved.files, "file"))
    click.echo(f"{target}: {', '.join(count(number, what) for number, what in parts)} saved")
    for line in saved.lost:
        click.echo(f"  lost: {line}")
    click.echo(f"Start a new shop from it: carwright shop import {target} --shop NEW.db")


@click.command("upgrade")
@place
def upgrade(place: str) -> None:
    """Bring a shop of an earlier carwright up to date; a backup of a file is put beside it first."""
    saved = upgrade_shop(place)
    click.echo(f"up to date; as it was before: {saved}" if saved else "up to date")
