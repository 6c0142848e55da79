"""``wiregen compare``: which way to convert."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen.cli.base import (
    Force,
    Json,
    PaperOption,
    RigFile,
    TrailerOption,
    app,
    opened,
    paper_of,
    show,
    telling_errors,
    width,
)

if TYPE_CHECKING:
    from wiregen.model.comparison import Comparison


@app.command("compare")
def compare(
    rig: RigFile,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Write to FILE: .svg, .csv or .md.", show_default=False)
    ] = None,
    trailer: TrailerOption = None,
    brief: Annotated[bool, typer.Option("--brief", help="Table and recommendation only.")] = False,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Put the ways to convert side by side, and recommend one."""
    from wiregen.questions.ways import ask

    with telling_errors():
        if to is not None:
            _known_ending(to)
        chosen_paper = paper_of(paper)
        loaded = opened(rig)
        made = ask.compare(loaded, trailer)
        if json:
            from wiregen.paper.json_text import json_text
            from wiregen.questions.ways.files import comparison_data

            show(json_text(comparison_data(made)))
        if to is not None:
            from wiregen.paper.files import write_files

            if to.suffix.lower() == ".svg":
                from wiregen.draw.svg import svg_text

                text = svg_text(ask.comparison_scene(loaded, made, chosen_paper))
            else:
                text = _comparison_file(made, to)
            for path in write_files({to: text}, force=force):
                typer.echo(f"wrote {path}", err=json)
        elif not json:
            from wiregen.questions.ways.paper import comparison_text

            show(comparison_text(made, width(), brief=brief))


def _known_ending(to: Path) -> None:
    """Refuse a file whose ending says nothing, before anything is computed."""
    from wiregen.errors import InputError

    ending = to.suffix.lower()
    if ending not in (".svg", ".csv", ".md"):
        written = repr(ending) if ending else "a file without ending"
        raise InputError(f"{to}: no comparison is written as {written}. Allowed: .svg .csv .md")


def _comparison_file(made: Comparison, to: Path) -> str:
    """Return the comparison as Markdown or CSV."""
    from wiregen.questions.ways.files import comparison_csv, comparison_markdown

    return comparison_csv(made) if to.suffix.lower() == ".csv" else comparison_markdown(made)
