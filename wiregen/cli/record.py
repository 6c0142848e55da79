"""``wiregen record``: what was measured, judged and kept."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen.cli.base import (
    FINDINGS,
    Force,
    Full,
    Json,
    PaperOption,
    RigFile,
    StateOption,
    To,
    TrailerOption,
    app,
    known_ending,
    opened,
    paper_of,
    telling_errors,
    write_or_show,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiregen.questions.record.as_built import AsBuilt, Entry, NumberedReading


@app.command("record")
def record(
    rig: RigFile,
    form: Annotated[
        Path | None,
        typer.Option("--form", metavar="FILE.csv", help="Write a blank form to fill in.", show_default=False),
    ] = None,
    filled: Annotated[
        Path | None, typer.Option("--from", metavar="FILE.csv", help="Read a filled-in form.", show_default=False)
    ] = None,
    listed: Annotated[bool, typer.Option("--list", help="Show what has been recorded.")] = False,
    date: Annotated[
        str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="Day of the readings; today.", show_default=False)
    ] = None,
    by: Annotated[str, typer.Option("--by", metavar="NAME", help="Who measured.", show_default=False)] = "",
    meter: Annotated[str, typer.Option("--meter", metavar="WORDS", help="With what.", show_default=False)] = "",
    amps: Annotated[bool, typer.Option("--amps", help="Ask for amps too.")] = False,
    state: StateOption = None,
    trailer: TrailerOption = None,
    to: To = None,
    full: Full = False,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Enter meter readings; wiregen checks them and saves them with the date."""
    from wiregen.questions.record import ask

    with telling_errors():
        from wiregen.paper.files import write_files

        known_ending(to)
        size = paper_of(paper)
        if listed:
            made = [one for _, one in ask.records(rig)]
            title = made[-1].title if made else rig.stem
            amiss = any(one.amiss for one in made[-1:])
        else:
            loaded = opened(rig)
            rows = ask.sheet_rows(loaded)
            asked = ask.rows_of(rows, state, trailer)
            if form is not None:
                from wiregen.questions.record.paper import form_csv

                for path in write_files({form: form_csv(asked, loaded.digest)}, force=force):
                    typer.echo(f"wrote {path}")
                return
            day = _day(date)
            entries = ask.read_form(filled, loaded) if filled else _ask(asked, amps=amps)
            now = ask.judge(loaded, rows, entries, day, by, meter)
            _keep(rig, now)
            made, title = [now], now.title
            amiss = bool(now.amiss)
        from wiregen.questions.record.paper import records_paper

        write_or_show(
            lambda whole: records_paper(made, title, full=whole), to, json=json, force=force, full=full, size=size
        )
    if amiss:
        raise typer.Exit(FINDINGS)


def _keep(rig: Path, now: AsBuilt) -> None:
    from wiregen.paper.files import write_files
    from wiregen.questions.record import ask
    from wiregen.questions.record.paper import record_toml

    path = ask.record_path(rig, now.date)
    earlier = next((one for place, one in ask.records(rig) if place == path), None)
    # The file of the day grows: what it held is in the new one too, so that nothing is lost by replacing it.
    write_files({path: record_toml(ask.together(earlier, now))}, force=True)
    typer.echo(f"recorded in {path}", err=True)


def _day(text: str | None) -> dt.date:
    from wiregen.errors import InputError

    if text is None:
        return dt.datetime.now(tz=dt.UTC).astimezone().date()
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(f"--date {text!r} is no day; one is written as 2026-05-04") from None


def _ask(rows: Sequence[NumberedReading], *, amps: bool) -> tuple[Entry, ...]:
    """Ask for every reading; an empty answer leaves one out, ``q`` ends."""
    from wiregen.errors import InputError
    from wiregen.questions.record.as_built import Entry, number_in
    from wiregen.questions.record.paper import asked_text

    typer.echo("Enter leaves a reading out, q ends. Everything mated, the trailer coupled, engine running.", err=True)
    entries: list[Entry] = []
    heading = ""
    for row in rows:
        if (heading_now := f"\n{row.state.trailer}: {row.state.state} {row.state.half}".rstrip()) != heading:
            heading = heading_now
            typer.echo(heading, err=True)
        for unit in ("V", "A") if amps else ("V",):
            typer.echo(asked_text(row, unit), nl=False, err=True)
            while True:
                line = sys.stdin.readline()
                word = line.strip()
                if not line or word.lower() == "q":
                    if not entries:
                        raise InputError("nothing was typed, so nothing is recorded")
                    return tuple(entries)
                if not word:
                    break
                value = number_in(word)
                if value is not None:
                    entries.append(Entry(row.ident, value, unit))
                    break
                typer.echo(f"  {word!r} is no number, such as 12.6; again: ", nl=False, err=True)
    if not entries:
        raise InputError("nothing was typed, so nothing is recorded")
    return tuple(entries)
