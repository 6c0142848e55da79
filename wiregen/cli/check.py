"""``wiregen check``: the proof on paper."""

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


@app.command("check")
def check(
    rig: RigFile, to: To = None, full: Full = False, json: Json = False, paper: PaperOption = "a4", force: Force = False
) -> None:
    """Prove every lamp, current and voltage on paper."""
    with telling_errors():
        from wiregen.questions.verdict.paper import report_paper

        known_ending(to)
        size = paper_of(paper)
        report = opened(rig).report
        write_or_show(lambda whole: report_paper(report, full=whole), to, json=json, force=force, full=full, size=size)
    if report.verdict != "clean":
        raise typer.Exit(FINDINGS)
