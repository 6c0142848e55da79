"""The command that makes the packet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import FINDINGS, Force, Json, PaperOption, RigFile, app, opened, paper_of, show, telling_errors


@app.command("packet")
def packet(
    rig: RigFile,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to make.", show_default=False)],
    paper: PaperOption = "a4",
    json: Json = False,
    force: Force = False,
) -> None:
    """Make the packet for the job: one PDF, drawings, tables, labels, in one folder."""
    from wiregen.bundle.packet import ask

    with telling_errors():
        from wiregen.paper.folder import write_folder
        from wiregen.paper.json_text import json_text

        made = ask.packet(opened(rig), paper_of(paper))
        wrote = write_folder(made.files, out, force=force)
        if json:
            show(json_text(made.listing))
        else:
            told = (
                f"wrote {len(made.files)} files to" if wrote else f"nothing changed in the {len(made.files)} files of"
            )
            typer.echo(f"{told} {out}: {out / 'packet.pdf'} has {made.listing['pages']} pages")
            if made.verdict != "clean":
                typer.echo("The check has findings: read them in the packet before you build.", err=True)
    if made.verdict != "clean":
        raise typer.Exit(FINDINGS)
