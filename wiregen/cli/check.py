"""Commands that prove and measure: check, explain, readings, netlist."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import (
    FINDINGS,
    Force,
    Json,
    RigFile,
    StateOption,
    TrailerOption,
    app,
    show,
    telling_errors,
    width,
)


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


@app.command("explain")
def explain(
    rule: Annotated[str | None, typer.Argument(metavar="[RULE]", help="Rule id, as printed with a finding.")] = None,
    json: Json = False,
) -> None:
    """Explain a rule of the check: what it looks at, why, formula, limit, source."""
    from wiregen import pipeline

    with telling_errors():
        from wiregen.questions.explain.paper import rule_data, rule_text, rules_text
        from wiregen.questions.verdict.data import json_text

        if rule is None:
            known = pipeline.rules()
            show(json_text([rule_data(one) for one in known]) if json else rules_text(known, width()))
            return
        info = pipeline.explain(rule)
        show(json_text(rule_data(info)) if json else rule_text(info, width()))


@app.command("readings")
def readings(
    rig: RigFile,
    state: StateOption = None,
    trailer: TrailerOption = None,
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE.csv", help="Write CSV.", show_default=False)] = None,
    json: Json = False,
    force: Force = False,
) -> None:
    """Tell what a meter shows at every contact and lamp, with the range over battery and temperature."""
    from wiregen import pipeline

    with telling_errors():
        from wiregen.paper.files import write_files
        from wiregen.questions.readings import data as readings_data

        sheet = pipeline.readings(pipeline.load(rig), state, trailer)
        if json:
            from wiregen.questions.verdict.data import json_text

            show(json_text(readings_data.readings_data(sheet)))
        if to is not None:
            _only_csv(to)
            for path in write_files({to: readings_data.readings_csv(sheet)}, force=force):
                typer.echo(f"wrote {path}", err=json)
        elif not json:
            from wiregen.questions.readings.paper import readings_text

            show(readings_text(sheet, width()))


def _only_csv(to: Path) -> None:
    from wiregen.errors import InputError

    if to.suffix.lower() != ".csv":
        raise InputError(f"{to}: readings are written as .csv")


@app.command("netlist")
def netlist(
    rig: RigFile,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write to.")] = Path(),
    state: StateOption = None,
    corner: Annotated[str, typer.Option("--corner", metavar="WORDS", help="Such as 'battery low, hot'.")] = "nominal",
    trailer: TrailerOption = None,
    json: Json = False,
    force: Force = False,
) -> None:
    """Write operating points as netlists for ngspice, one file a state."""
    from wiregen import pipeline

    with telling_errors():
        from wiregen.paper.files import write_files

        texts, left_out = pipeline.netlists(pipeline.load(rig), state, corner, trailer)
        for words in left_out:
            typer.echo(f"left out, it has no operating point: {words}", err=True)
        paths = write_files({out / f"{stem}.cir": text for stem, text in texts.items()}, force=force)
        if json:
            from wiregen.questions.verdict.data import json_text

            show(json_text({"files": [str(path) for path in paths], "left_out": list(left_out)}))
            return
        for path in paths:
            typer.echo(f"wrote {path}")
