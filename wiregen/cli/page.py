"""``wiregen page``: the rig on a phone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Force, RigFile, app, opened, telling_errors


@app.command("page")
def page(
    rig: RigFile,
    to: Annotated[Path, typer.Option("--to", metavar="FILE.html", help="The page to write.")] = Path("rig.html"),
    guide: Annotated[
        bool, typer.Option("--guide/--no-guide", help="With or without the fault guide, which takes a few seconds.")
    ] = True,
    force: Force = False,
) -> None:
    """Write a page on which the controls can be worked, for a phone without a network."""
    from wiregen.bundle.page import ask
    from wiregen.questions.faults import ask as faults

    with telling_errors():
        from wiregen.bundle.page.html import page_text
        from wiregen.errors import InputError
        from wiregen.paper.files import write_files

        if to.suffix.lower() not in (".html", ".htm"):
            raise InputError(f"{to}: the page is written as .html")
        loaded = opened(rig)
        guides = faults.fault_guide(loaded) if guide else ()
        text = page_text(ask.live_page(loaded, guides=guides))
        for path in write_files({to: text}, force=force):
            typer.echo(f"wrote {path}")
