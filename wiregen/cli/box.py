"""``wiregen box``: the label of a relay or adapter box."""

from __future__ import annotations

from typing import Annotated

import typer

from wiregen.cli.base import (
    FINDINGS,
    Force,
    Full,
    Json,
    PaperOption,
    RigFile,
    To,
    TrailerOption,
    app,
    known_ending,
    opened,
    paper_of,
    telling_errors,
    write_or_show,
)


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
    to: To = None,
    full: Full = False,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Judge the label of a relay or adapter box.

    What the label does not say counts at its worst and becomes a question to the seller.
    """
    from wiregen.questions.box import ask

    with telling_errors():
        from wiregen.questions.box.label import label_of

        known_ending(to)
        size = paper_of(paper)
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
        report = ask.box(opened(rig), label, trailer)
        from wiregen.questions.box.paper import box_paper

        write_or_show(lambda whole: box_paper(report, full=whole), to, json=json, force=force, full=full, size=size)
    if report.verdict not in ("passes", "passes with headroom"):
        raise typer.Exit(FINDINGS)
