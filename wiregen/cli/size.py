"""Commands that decide: size."""

from __future__ import annotations

from typing import Annotated

import typer

from wiregen.cli.base import FINDINGS, Json, RigFile, app, show, telling_errors, width


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
) -> None:
    """Choose every conductor and fuse that is "auto": the least copper that keeps all rules."""
    from wiregen.design.design import load
    from wiregen.sizing import ask

    with telling_errors():
        loaded = load(rig)
        before = rig.read_bytes()
        sizing = ask.size(loaded, series=series, every=every)
        written: tuple[str, ...] = ()
        if write and sizing.verdict == "sized":
            written = ask.write_sizes(rig, before, loaded, sizing)
        if json:
            from wiregen.paper.json_text import json_text
            from wiregen.sizing.data import size_data

            show(json_text(size_data(sizing, written)))
        else:
            from wiregen.sizing.paper import size_text

            show(size_text(sizing, width(), written))
    if sizing.verdict == "impossible" or sizing.left:
        raise typer.Exit(FINDINGS)
