"""``wiregen check``: the proof on paper."""

from __future__ import annotations

from typing import Annotated

import typer

from wiregen.cli.base import FINDINGS, Json, RigFile, app, opened, show, telling_errors, width


@app.command("check")
def check(
    rig: RigFile,
    json: Json = False,
    brief: Annotated[bool, typer.Option("--brief", help="Findings and verdict only.")] = False,
) -> None:
    """Prove every lamp, current and voltage on paper."""
    with telling_errors():
        report = opened(rig).report
        if json:
            from wiregen.paper.json_text import json_text
            from wiregen.questions.verdict.data import report_data

            show(json_text(report_data(report)))
        else:
            from wiregen.questions.verdict.paper import report_text

            show(report_text(report, width(), brief=brief))
    if report.verdict != "clean":
        raise typer.Exit(FINDINGS)
