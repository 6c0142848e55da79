"""The command line: arguments in, pipeline, print, exit status (0 clean, 1 findings, 2 bad input).

One file a command, of its name. Imports that cost time stand inside the commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Annotated

import typer

from wiregen import __version__
from wiregen.cli.base import app

__all__ = ["app", "main"]

#: The commands in the order of a job, from the first question to the last paper; each stands in the file of its name.
_ORDER = (
    "demo",
    "new",
    "check",
    "explain",
    "size",
    "compare",
    "box",
    "chart",
    "draw",
    "page",
    "packet",
    "readings",
    "trace",
    "fault",
    "shorts",
    "netlist",
    "record",
    "diff",
    "pinouts",
    "schema",
    "upgrade",
)
for _name in _ORDER:
    import_module(f"wiregen.cli.{_name}")  # adds its command
for _command in app.registered_commands:
    # Given as such, the list of commands wraps it; the first sentence of a docstring is cut off instead.
    _command.short_help = (_command.callback.__doc__ or "").partition("\n\n")[0] if _command.callback else None


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"wiregen {__version__}")
        raise typer.Exit


@app.callback()
def _start(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Wiring charts, schematics and checks for towing 12 V trailers with a 24 V vehicle."""


def main() -> None:
    """Run the command line; a reader that closes the pipe early is no error."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
