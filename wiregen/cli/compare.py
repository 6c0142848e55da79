"""``wiregen compare``: which way to convert."""

from __future__ import annotations

from wiregen.cli.base import (
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


@app.command("compare")
def compare(
    rig: RigFile,
    to: To = None,
    trailer: TrailerOption = None,
    full: Full = False,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Put the ways to convert side by side, and recommend one."""
    from wiregen.questions.ways import ask

    with telling_errors():
        from wiregen.questions.ways.paper import ways_paper

        known_ending(to)
        size = paper_of(paper)
        design = opened(rig)
        made = ask.compare(design, trailer)
        write_or_show(
            lambda whole: ways_paper(made, full=whole),
            to,
            json=json,
            force=force,
            full=full,
            size=size,
            scenes=lambda size: [ask.comparison_scene(design, made, size)],
        )
