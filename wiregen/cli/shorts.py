"""The command that shows short circuits."""

from __future__ import annotations

import typer

from wiregen.cli.base import FINDINGS, Json, RigFile, app, opened, show, telling_errors, width


@app.command("shorts")
def shorts(rig: RigFile, json: Json = False) -> None:
    """Tell what flows where a conductor touches ground, which fuse opens, and when.

    Exit status 1 where a short lasts until a conductor is harmed.
    """
    from wiregen.questions.shorts import ask

    with telling_errors():
        from wiregen.questions.shorts.paper import shorts_data, shorts_text

        sheet = ask.shorts(opened(rig))
        if json:
            from wiregen.paper.json_text import json_text

            show(json_text(shorts_data(sheet)))
        else:
            show(shorts_text(sheet, width()))
        if sheet.harms:
            raise typer.Exit(FINDINGS)
