"""``wiregen upgrade``: an older file brought up to today's keys."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import app, show, telling_errors


@app.command("upgrade")
def upgrade(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A rig file or a pinout file.", show_default=False)],
) -> None:
    """Bring an older rig or pinout file up to today's keys; comments stay."""
    with telling_errors():
        from wiregen.loader.reading import read_toml
        from wiregen.loader.renamed import FORMAT
        from wiregen.loader.upgrade import upgraded
        from wiregen.paper.files import replace_file

        before = file.read_bytes() if file.is_file() else b""
        made = upgraded(read_toml(file))
        for line, words in made.changes:
            show(f"{file}:{line}: {words}\n")
        mark = "\ufeff" if before.startswith(b"\xef\xbb\xbf") else ""
        if replace_file(file, before, (mark + made.text).encode("utf-8")):
            typer.echo(f"wrote {file}: format {FORMAT}, {len(made.changes)} keys renamed")
        else:
            typer.echo(f"{file} follows format {FORMAT} already; nothing is written")
