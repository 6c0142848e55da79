"""Commands on revisions of a rig: diff."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Force, Json, PaperOption, app, opened, paper_files, paper_of, show, telling_errors, width

OldRig = Annotated[Path, typer.Argument(metavar="OLD", help="The rig file as it was.", show_default=False)]
NewRig = Annotated[Path, typer.Argument(metavar="NEW", help="The rig file as it is now.", show_default=False)]


@app.command("diff")
def diff(
    old: OldRig,
    new: NewRig,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Write NEW's chart with what changed marked.", show_default=False),
    ] = None,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Tell what changed between two revisions: contacts, conductors, fuses, lamps, findings."""
    from wiregen.questions.diff import ask

    with telling_errors():
        from wiregen.paper.json_text import json_text
        from wiregen.questions.diff.paper import changes_data, changes_text

        size = paper_of(paper)
        was, now = opened(old), opened(new)
        changes = ask.diff(was, now)
        show(json_text(changes_data(changes)) if json else changes_text(changes, width()))
        if to is not None:
            from wiregen.chart.paper import chart_paper
            from wiregen.paper.files import write_files

            files = paper_files(chart_paper(ask.marked_chart(now, changes)), to, size)
            for path in write_files(files, force=force):
                typer.echo(f"wrote {path}", err=json)
