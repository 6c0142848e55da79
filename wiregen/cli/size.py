"""``wiregen size``: choose the sizes and fuses that are open."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Annotated

import typer

from wiregen.cli.base import FINDINGS, Json, RigFile, app, show, telling_errors, width


@contextmanager
def telling_progress() -> Iterator[Callable[[int, float | None], None]]:
    """Hand out a function that tells how far the search is, on one line of stderr, where that is a terminal."""
    is_seen = sys.stderr.isatty()

    def tell(checks: int, copper_kg: float | None) -> None:
        if is_seen:
            best = "" if copper_kg is None else f", best so far {copper_kg:.3f} kg of copper"
            sys.stderr.write(f"\r\x1b[K{checks} choices checked{best}")
            sys.stderr.flush()

    try:
        yield tell
    finally:
        if is_seen:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()


@app.command("size")
def size(
    rig: RigFile,
    json: Json = False,
    write: Annotated[bool, typer.Option("--write", help="Put the values into the rig file.")] = False,
    every: Annotated[bool, typer.Option("--all", help="Choose sizes and fuses that are stated too.")] = False,
    series: Annotated[
        str | None,
        typer.Option("--series", metavar="NAME", help="awg, sae or mm2; else that of the rig.", show_default=False),
    ] = None,
    seconds: Annotated[
        float,
        typer.Option("--seconds", min=0.0, max=86400.0, help="Look no longer for less copper; 15 checks are made."),
    ] = 10.0,
) -> None:
    """Choose every wire and fuse that is "auto": the least copper that keeps all rules, or what comes nearest."""
    from wiregen.design.design import load
    from wiregen.sizing import ask

    with telling_errors():
        loaded = load(rig)
        before = rig.read_bytes()
        with telling_progress() as tell:
            sizing = ask.size(loaded, series=series, every=every, seconds=seconds, tell=tell)
        written: tuple[str, ...] = ()
        if write:
            written = ask.write_sizes(rig, before, loaded, sizing)
        if json:
            from wiregen.paper.json_text import json_text
            from wiregen.sizing.data import size_data

            show(json_text(size_data(sizing, written)))
        else:
            from wiregen.sizing.paper import size_text

            show(size_text(sizing, width(), written))
    if sizing.missing or sizing.left:
        raise typer.Exit(FINDINGS)
