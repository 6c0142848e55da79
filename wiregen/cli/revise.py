"""Commands on revisions of a rig: diff."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Json, app, show, telling_errors, width

OldRig = Annotated[Path, typer.Argument(metavar="OLD", help="The rig file as it was.", show_default=False)]
NewRig = Annotated[Path, typer.Argument(metavar="NEW", help="The rig file as it is now.", show_default=False)]


@app.command("diff")
def diff(
    old: OldRig,
    new: NewRig,
    json: Json = False,
) -> None:
    """Tell what changed between two revisions: contacts, conductors, fuses, lamps, findings."""
    from wiregen import pipeline

    with telling_errors():
        from wiregen.packet.changes_text import changes_data, changes_text
        from wiregen.packet.report_json import json_text

        changes = pipeline.diff(pipeline.load(old), pipeline.load(new))
        show(json_text(changes_data(changes)) if json else changes_text(changes, width()))
