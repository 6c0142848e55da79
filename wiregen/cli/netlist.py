"""``wiregen netlist``: operating points for a simulator."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Force, Json, RigFile, StateOption, TrailerOption, app, opened, show, telling_errors


@app.command("netlist")
def netlist(
    rig: RigFile,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write to.")] = Path(),
    state: StateOption = None,
    corner: Annotated[str, typer.Option("--corner", metavar="WORDS", help="Such as 'battery low, hot'.")] = "nominal",
    trailer: TrailerOption = None,
    json: Json = False,
    force: Force = False,
) -> None:
    """Write operating points as netlists for ngspice, one file a state."""
    from wiregen.questions.netlist import ask

    with telling_errors():
        from wiregen.paper.files import write_files

        texts, left_out = ask.netlists(opened(rig), state, corner, trailer)
        for words in left_out:
            typer.echo(f"left out, it has no operating point: {words}", err=True)
        paths = write_files({out / f"{stem}.cir": text for stem, text in texts.items()}, force=force)
        if json:
            from wiregen.paper.json_text import json_text

            show(json_text({"files": [str(path) for path in paths], "left_out": list(left_out)}))
            return
        for path in paths:
            typer.echo(f"wrote {path}")
