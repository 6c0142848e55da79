"""``wiregen pinouts``: the connector wirings that are known."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import Json, app, show, telling_errors, width


@app.command("pinouts")
def pinouts(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="A pinout to show whole.")] = None,
    lamps: Annotated[bool, typer.Option("--lamps", help="List the lamp types instead.")] = False,
    json: Json = False,
) -> None:
    """List known connector wirings, or show one."""
    with telling_errors():
        from wiregen.loader.pinout_files import built_in_pinouts, find_pinout, read_pinout, unknown_pinout
        from wiregen.paper.json_text import json_text
        from wiregen.questions.pinouts import paper as pinout_text
        from wiregen.questions.pinouts.data import pinout_data

        if lamps:
            show(_lamps(json=json))
            return
        known = built_in_pinouts()
        if name is None:
            show(json_text([pinout_data(*row) for row in known]) if json else pinout_text.list_text(known, width()))
            return
        path = find_pinout(name, Path())
        if path is None:
            from wiregen.errors import InputError

            raise InputError(unknown_pinout(name))
        connector = read_pinout(path)
        text = pinout_text.show_text(name, connector, known, width())
        show(json_text(pinout_data(name, connector)) if json else text)


def _lamps(*, json: bool) -> str:
    from dataclasses import asdict

    from wiregen.catalogue.lamps import LAMPS
    from wiregen.paper.json_text import json_text
    from wiregen.questions.pinouts.paper import lamps_text

    lamps = list(LAMPS.values())
    return json_text([asdict(lamp) for lamp in lamps]) if json else lamps_text(lamps, width())
