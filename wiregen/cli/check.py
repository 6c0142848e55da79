"""``wiregen check``: the proof on paper."""

from __future__ import annotations

from typing import Annotated

import typer

from wiregen.cli.base import FINDINGS, Json, RigFile, app, show, telling_errors, width


@app.command("check")
def check(
    rig: RigFile,
    json: Json = False,
    brief: Annotated[bool, typer.Option("--brief", help="Findings and verdict only.")] = False,
) -> None:
    """Prove every lamp, current and voltage on paper."""
    from wiregen import pipeline

    with telling_errors():
        report = pipeline.check(pipeline.load(rig))
        if json:
            from wiregen.questions.verdict.data import json_text, report_data

            show(json_text(report_data(report)))
        else:
            from wiregen.questions.verdict.paper import report_text

            show(report_text(report, width(), brief=brief))
    if report.verdict != "clean":
        raise typer.Exit(FINDINGS)
