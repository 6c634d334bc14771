"""The command line: one thin command per verb.

Commands are imported when they are called, so that ``carwright --help`` stays quick.
"""

from __future__ import annotations

import io
import signal
import sys

import click

from carwright import __version__
from carwright.cli.lazy import LazyGroup, Verb
from carwright.errors import CarwrightError

COMMANDS = {
    "ballast": "Choose ballast or a load, place it, and say what it costs a train.",
    "changes": "Say what changed in a car since it was last looked at.",
    "compare": "Lay two to six cars side by side.",
    "date": "Say when a car can be right, when its pictures are from, and what clashes.",
    "demo": "Make a demo car and its report.",
    "inspect": "Judge one bench sheet: the main job.",
    "labels": "Print box and shelf labels, and tags for cars held for work.",
    "new": "Write a short commented sheet that already inspects.",
    "plan": "Say what to do, in working order, and what it will bring.",
    "report": "Publish a sheet: page, print, drawings, cards and chapters for video, a claim.",
    "serve": "Serve the web app for the bench and the phone beside it.",
    "shop": "Keep every car's history: add, list, merge, check, back up.",
    "tables": "Show a fact, a table or a rule set with its sources.",
    "washers": "Choose washers from two coupler heights alone.",
    "words": "List characteristics, places and units.",
}


_VERBS = {name: Verb(f"carwright.cli.{name}_command", "command", says) for name, says in COMMANDS.items()}


@click.group(cls=LazyGroup, verbs=_VERBS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="carwright")
def verbs() -> None:
    """Measure, judge and write about scale railroad cars, with uncertainty.

    Start with `carwright new car.toml --scale HO`, fill in what you measured, then `carwright inspect car.toml`.
    Exit status: 0 done (1 with --strict when something fails), 2 bad input.
    """


def main() -> None:
    """Run a command; what a person did wrong is one line per fault on stderr and exit status 2."""
    if hasattr(signal, "SIGPIPE"):
        # A reader that goes away (``| head``) ends us quietly, as it ends every other filter.
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a shape a terminal cannot show must not stop the words beside it
    try:
        verbs(standalone_mode=True)
    except CarwrightError as error:
        click.echo(str(error), err=True)
        sys.exit(2)
