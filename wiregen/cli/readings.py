"""``wiregen readings``: what a meter should read."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Force, Json, RigFile, StateOption, TrailerOption, app, opened, show, telling_errors, width


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
    with telling_errors():
        from wiregen.paper.files import write_files
        from wiregen.questions.readings import data as readings_data

        sheet = opened(rig).readings(state, trailer)
        if json:
            from wiregen.paper.json_text import json_text

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
