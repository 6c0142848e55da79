"""The command that writes a first rig file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen.cli.base import Force, app, telling_errors

if TYPE_CHECKING:
    from wiregen.plan.starter import Question

#: Wrong answers to one question after which nobody can be at the keyboard.
_MOST_TRIES = 20


@app.command("new")
def new(
    to: Annotated[Path, typer.Argument(metavar="FILE", help="The rig file to write.")] = Path("rig.toml"),
    answer: Annotated[
        list[str] | None,
        typer.Option("--answer", metavar="KEY=TEXT", help="An answer given beforehand; may be repeated."),
    ] = None,
    defaults: Annotated[bool, typer.Option("--defaults", help="Take the default for what is not answered.")] = False,
    force: Force = False,
) -> None:
    """Ask a few questions and write a commented rig file."""
    from wiregen import pipeline

    with telling_errors():
        from wiregen.packet.files import write_files

        given = _prepared(answer or [])
        text = pipeline.new_rig(given, None if defaults else _ask)
        schema_file = to.parent / "wiregen.schema.json"
        files = {to: text}
        if not schema_file.exists():
            files[schema_file] = pipeline.schema()
        for path in write_files(files, force=force):
            typer.echo(f"wrote {path}")
    typer.echo(f"Next: read it, correct lengths and lamps, then run 'wiregen check {to}'.")


def _prepared(answers: list[str]) -> dict[str, str]:
    from wiregen.errors import InputError

    given = {}
    for answer in answers:
        key, equals, text = answer.partition("=")
        if not equals:
            raise InputError(f"--answer {answer!r}: KEY=TEXT is wanted, such as socket=iso-12098")
        given[key.strip()] = text.strip()
    return given


def _ask(question: Question) -> str:
    """Ask one question on the terminal until the answer will do; an empty answer takes the default."""
    from wiregen.errors import InputError

    typer.echo()
    if question.help:
        typer.echo(question.help)
    for number, choice in enumerate(question.choices, start=1):
        typer.echo(f"  {number:>2}  {choice.value:<26}{choice.title}")
    for _ in range(_MOST_TRIES):
        typer.echo(f"{question.prompt} ", nl=False)
        line = sys.stdin.readline()
        if not line:
            raise InputError(f"no answer to: {question.text} (the input ended; --defaults takes the defaults)")
        text = line.strip()
        problem = question.problem(text)
        if not problem:
            return text
        typer.echo(problem)
    raise InputError(f"no answer to: {question.text} ({_MOST_TRIES} answers would not do; nothing is written)")
