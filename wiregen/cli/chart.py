"""``wiregen chart``: the wiring chart."""

from __future__ import annotations

from wiregen.cli.base import (
    Force,
    Full,
    Json,
    PaperOption,
    RigFile,
    To,
    app,
    known_ending,
    opened,
    paper_of,
    telling_errors,
    write_or_show,
)


@app.command("chart")
def chart(
    rig: RigFile, to: To = None, full: Full = False, json: Json = False, paper: PaperOption = "a4", force: Force = False
) -> None:
    """Print the wiring chart, or write it to a file."""
    with telling_errors():
        from wiregen.chart.paper import chart_paper

        known_ending(to)
        size = paper_of(paper)
        made = opened(rig).chart
        write_or_show(lambda whole: chart_paper(made), to, json=json, force=force, full=full, size=size)
