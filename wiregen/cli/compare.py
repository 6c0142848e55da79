"""Commands that help to choose: compare, box."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen.cli.base import (
    FINDINGS,
    Force,
    Json,
    PaperOption,
    RigFile,
    TrailerOption,
    app,
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
    from wiregen import pipeline

    with telling_errors():
        if to is not None:
            _known_ending(to)
        chosen_paper = paper_of(paper)
        loaded = pipeline.load(rig)
        made = pipeline.compare(loaded, trailer)
        if json:
            from wiregen.questions.verdict.data import json_text
            from wiregen.questions.ways.files import comparison_data

            show(json_text(comparison_data(made)))
        if to is not None:
            from wiregen.paper.files import write_files

            if to.suffix.lower() == ".svg":
                from wiregen.draw.svg import svg_text

                text = svg_text(pipeline.comparison_scene(loaded, made, chosen_paper))
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


@app.command("box")
def box(
    rig: RigFile,
    channels: Annotated[
        int | None, typer.Option("--channels", metavar="N", help="Number of outputs.", show_default=False)
    ] = None,
    each: Annotated[
        str | None, typer.Option("--each", metavar="AMPS", help="Amps of one output, '5 A'.", show_default=False)
    ] = None,
    total: Annotated[
        str | None, typer.Option("--total", metavar="AMPS", help="Amps of all together, '20 A'.", show_default=False)
    ] = None,
    voltage: Annotated[
        str | None, typer.Option("--voltage", metavar="VOLTS", help="12 V or 24 V: where the amps hold.")
    ] = None,
    load: Annotated[
        str | None, typer.Option("--load", metavar="WORD", help="resistive or lamp: for what the amps hold.")
    ] = None,
    duty: Annotated[
        str | None, typer.Option("--duty", metavar="WORD", help="continuous or peak: how long they may flow.")
    ] = None,
    make: Annotated[
        str | None, typer.Option("--make", metavar="AMPS", help="Make current of one contact.", show_default=False)
    ] = None,
    peak: Annotated[
        str | None, typer.Option("--peak", metavar="AMPS", help="Amps in all for a short time.", show_default=False)
    ] = None,
    up_to: Annotated[
        str | None, typer.Option("--up-to", metavar="TEMP", help="Air up to which the amps hold, '60 °C'.")
    ] = None,
    trailer: TrailerOption = None,
    json: Json = False,
) -> None:
    """Judge the label of a relay or adapter box.

    What the label does not say counts at its worst and becomes a question to the seller.
    """
    from wiregen import pipeline

    with telling_errors():
        from wiregen.questions.box.label import label_of

        label = label_of(
            channels=channels,
            each=each,
            total=total,
            voltage=voltage,
            load=load,
            duty=duty,
            make=make,
            peak=peak,
            up_to=up_to,
        )
        report = pipeline.box(pipeline.load(rig), label, trailer)
        from wiregen.questions.box.paper import box_data, box_text
        from wiregen.questions.verdict.data import json_text

        show(json_text(box_data(report)) if json else box_text(report, width()))
    if report.verdict not in ("passes", "passes with headroom"):
        raise typer.Exit(FINDINGS)
