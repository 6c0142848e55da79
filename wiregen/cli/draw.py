"""``wiregen draw``: schematics and connector faces."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Force, PaperOption, RigFile, app, opened, paper_of, telling_errors


@app.command("draw")
def draw(
    rig: RigFile,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write the SVG files to.")] = Path(),
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Draw schematics and connector faces as SVG."""
    with telling_errors():
        from wiregen.draw.svg import svg_text
        from wiregen.paper.files import write_files

        scenes = opened(rig).drawings(paper_of(paper))
        files = {out / f"{stem}.svg": svg_text(scene) for stem, scene in scenes.items()}
        for path in write_files(files, force=force):
            typer.echo(f"wrote {path}")
