"""``wiregen shorts``: every short circuit, and what opens it."""

from __future__ import annotations

import typer

from wiregen.cli.base import (
    FINDINGS,
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


@app.command("shorts")
def shorts(
    rig: RigFile, to: To = None, full: Full = False, json: Json = False, paper: PaperOption = "a4", force: Force = False
) -> None:
    """Show what flows where a wire touches ground, which fuse opens, and when.

    Exit status 1 where a short lasts until a wire is harmed.
    """
    from wiregen.questions.shorts import ask

    with telling_errors():
        from wiregen.questions.shorts.paper import shorts_paper

        known_ending(to)
        size = paper_of(paper)
        sheet = ask.shorts(opened(rig))
        write_or_show(lambda whole: shorts_paper(sheet, full=whole), to, json=json, force=force, full=full, size=size)
        if sheet.harms:
            raise typer.Exit(FINDINGS)
