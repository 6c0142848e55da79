"""``wiregen readings``: what a meter should read."""

from __future__ import annotations

from wiregen.cli.base import (
    Force,
    Full,
    Json,
    PaperOption,
    RigFile,
    StateOption,
    To,
    TrailerOption,
    app,
    known_ending,
    opened,
    paper_of,
    telling_errors,
    write_or_show,
)


@app.command("readings")
def readings(
    rig: RigFile,
    state: StateOption = None,
    trailer: TrailerOption = None,
    to: To = None,
    full: Full = False,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Show what a meter should read at every contact and lamp, with the range over battery and temperature."""
    with telling_errors():
        from wiregen.questions.readings.paper import readings_paper

        known_ending(to)
        size = paper_of(paper)
        sheet = opened(rig).readings(state, trailer)
        write_or_show(lambda whole: readings_paper(sheet, full=whole), to, json=json, force=force, full=full, size=size)
