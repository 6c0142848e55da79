"""``wiregen diff``: what changed between two revisions."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import (
    Force,
    Json,
    PaperOption,
    To,
    app,
    known_ending,
    opened,
    paper_files,
    paper_of,
    telling_errors,
    write_or_show,
)

OldRig = Annotated[Path, typer.Argument(metavar="OLD", help="The rig file as it was.", show_default=False)]
NewRig = Annotated[Path, typer.Argument(metavar="NEW", help="The rig file as it is now.", show_default=False)]


@app.command("diff")
def diff(
    old: OldRig,
    new: NewRig,
    to: To = None,
    chart: Annotated[
        Path | None,
        typer.Option("--chart", metavar="FILE", help="Write NEW's chart with what changed marked.", show_default=False),
    ] = None,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Show what changed between two revisions: contacts, wires, fuses, lamps, findings."""
    from wiregen.questions.diff import ask

    with telling_errors():
        from wiregen.chart.paper import chart_paper
        from wiregen.paper.files import write_files
        from wiregen.questions.diff.paper import changes_paper

        known_ending(to)
        known_ending(chart)
        size = paper_of(paper)
        was, now = opened(old), opened(new)
        changes = ask.diff(was, now)
        write_or_show(lambda _: changes_paper(changes), to, json=json, force=force, size=size)
        if chart is not None:
            files = paper_files(chart_paper(ask.marked_chart(now, changes)), chart, size)
            for path in write_files(files, force=force):
                typer.echo(f"wrote {path}", err=json)
