"""``wiregen trace``: where a contact, wire, fuse, lamp or terminal leads."""

from __future__ import annotations

from typing import Annotated

import typer

from wiregen.cli.base import Json, RigFile, TrailerOption, app, opened, show, telling_errors, width


# A mark may be written with its hyphen, which is no option.
@app.command("trace", context_settings={"ignore_unknown_options": True})
def trace(
    rig: RigFile,
    mark: Annotated[
        str, typer.Argument(metavar="MARK", help="Such as X1:B, W12, F3, E3 or K1:30.", show_default=False)
    ],
    trailer: TrailerOption = None,
    json: Json = False,
) -> None:
    """Trace a contact, wire, fuse, lamp or terminal: every way, when it is live, what a break cuts off."""
    with telling_errors():
        from wiregen.questions.trace import ask

        found = ask.trace(opened(rig), mark, trailer)
        if json:
            from wiregen.paper.json_text import json_text
            from wiregen.questions.trace.paper import trace_data

            show(json_text(trace_data(found)))
        else:
            from wiregen.questions.trace.paper import trace_text

            show(trace_text(found, width()))
