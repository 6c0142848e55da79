"""``wiregen schema``: the JSON Schema of a rig file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Force, app, show, telling_errors


@app.command("schema")
def schema(
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Write to FILE.", show_default=False)] = None,
    pinout: Annotated[bool, typer.Option("--pinout", help="The schema of a pinout file instead.")] = False,
    force: Force = False,
) -> None:
    """Print the JSON Schema of a rig file, for editors."""
    from wiregen.loader.schema import pinout_schema, rig_schema

    with telling_errors():
        text = pinout_schema() if pinout else rig_schema()
        if to is None:
            show(text)
            return
        from wiregen.paper.files import write_files

        for path in write_files({to: text}, force=force):
            typer.echo(f"wrote {path}")
