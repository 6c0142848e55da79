"""The command that writes a first rig file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen.cli.base import Force, app, opened, show, telling_errors, width

if TYPE_CHECKING:
    from wiregen.model.report import Report
    from wiregen.questions.draft.starter import Question

#: Wrong answers to one question after which nobody can be at the keyboard.
_MOST_TRIES = 20


@app.command("new")
def new(
    to: Annotated[Path, typer.Argument(metavar="FILE", help="The rig file to write.")] = Path("rig.toml"),
    answer: Annotated[
        list[str] | None,
        typer.Option("--answer", metavar="KEY=TEXT", help="An answer given beforehand; may be repeated. See --keys."),
    ] = None,
    defaults: Annotated[bool, typer.Option("--defaults", help="Take the default for what is not answered.")] = False,
    keys: Annotated[bool, typer.Option("--keys", help="List the keys of --answer with what they take.")] = False,
    force: Force = False,
) -> None:
    """Ask a few questions and write a commented rig file."""
    from wiregen.loader.schema import rig_schema
    from wiregen.questions.draft import ask

    if keys:
        show(_keys())
        return
    with telling_errors():
        from wiregen.paper.files import write_files

        given = _prepared(answer or [])
        text = ask.new_rig(given, None if defaults else _ask)
        schema_file = to.parent / "wiregen.schema.json"
        files = {to: text}
        if not schema_file.exists():
            files[schema_file] = rig_schema()
        for path in write_files(files, force=force):
            typer.echo(f"wrote {path}")
        show(_found(opened(to).report))
    typer.echo(f"Next: read it, correct lengths and lamps, then run 'wiregen check {to}'.")


def _found(report: Report) -> str:
    """Return what the check finds in the draft as it stands."""
    from collections import Counter

    from wiregen.paper.words import wrap

    told = []
    for severity in ("error", "warning"):
        rules = Counter(finding.rule for finding in report.findings if finding.severity == severity)
        count = sum(rules.values())
        each = ", ".join(rule + (f" ×{number}" if number > 1 else "") for rule, number in rules.items())
        told.append(f"{count or 'no'} {severity}{'' if count == 1 else 's'}" + (f" ({each})" if each else ""))
    words = (
        f"As it stands the check finds {' and '.join(told)}. That is about a draft: its lengths, lamps and fuses are "
        "guesses until you have looked."
    )
    return "".join(f"{line}\n" for line in wrap(words, width()))


def _keys() -> str:
    """Return every key of --answer with its question and what it takes."""
    from wiregen.paper.words import wrap
    from wiregen.questions.draft import ask

    lines = wrap("An empty text takes the default. Which keys count depends on the answers before them.", width())
    for question in ask.answer_keys():
        text = question.text.partition("?")[0] + "?"
        lines += wrap(f"  {question.key:<20}  {text} {question.takes}", width(), " " * 24)
    lines += wrap("Another trailer's keys are the same with its number, after trailer.1.another=yes.", width())
    return "".join(f"{line}\n" for line in lines)


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
