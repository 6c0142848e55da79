"""``wiregen chart``: the wiring chart."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen.cli.base import Force, Json, PaperOption, RigFile, app, opened, paper_of, show, telling_errors, width

if TYPE_CHECKING:
    from wiregen.model.chart import Chart


@app.command("chart")
def chart(
    rig: RigFile,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Write to FILE: .svg, .csv, .md or .html.", show_default=False),
    ] = None,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Print the wiring chart, or write it to a file."""
    with telling_errors():
        paper_of(paper)
        made = opened(rig).chart
        if json:
            from wiregen.chart.data import chart_data
            from wiregen.paper.json_text import json_text

            show(json_text(chart_data(made)))
        if to is not None:
            from wiregen.paper.files import write_files

            for path in write_files(chart_files(made, to, paper), force=force):
                typer.echo(f"wrote {path}", err=json)
        elif not json:
            from wiregen.chart.text import terminal_text

            show(terminal_text(made, width()))


def chart_files(made: Chart, to: Path, paper: str) -> dict[Path, str]:
    """Return the text of a chart file by path; sheets after the first get a number."""
    from wiregen.draw.chart_sheet import chart_sheets
    from wiregen.errors import InputError

    ending = to.suffix.lower()
    if ending == ".csv":
        from wiregen.chart.csv_text import csv_text

        return {to: csv_text(made)}
    if ending == ".md":
        from wiregen.chart.markdown import markdown_text

        return {to: markdown_text(made)}
    if ending in (".html", ".htm"):
        from wiregen.chart.html_text import html_text

        return {to: html_text(made)}
    if ending == ".svg":
        from wiregen.draw.svg import svg_text

        scenes = chart_sheets(made, paper_of(paper))
        if len(scenes) == 1:
            return {to: svg_text(scenes[0])}
        return {to.with_stem(f"{to.stem}-{number}"): svg_text(scene) for number, scene in enumerate(scenes, start=1)}
    written = repr(ending) if ending else "a file without ending"
    raise InputError(f"{to}: no chart is written as {written}. Allowed: .svg .csv .md .html")
