"""What every command shares: the application, its options, errors in words, and printing."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from wiregen.design.design import Design
    from wiregen.draw.sheet import Paper

CLEAN, FINDINGS, BAD_INPUT = 0, 1, 2

app = typer.Typer(
    name="wiregen",
    help="Wiring charts, schematics and checks for towing 12 V trailers with a 24 V vehicle.",
    epilog="Start with 'wiregen demo', or 'wiregen new my-rig.toml'.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

RigFile = Annotated[Path, typer.Argument(metavar="RIG", help="The rig file (TOML).", show_default=False)]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for machines.")]
Force = Annotated[bool, typer.Option("--force", help="Replace files that hold something else.")]
StateOption = Annotated[
    str | None,
    typer.Option("--state", metavar="WORDS", help="Controls, such as 'service lights, brake'.", show_default=False),
]
TrailerOption = Annotated[
    str | None, typer.Option("--trailer", metavar="NAME", help="One trailer only.", show_default=False)
]
PaperOption = Annotated[str, typer.Option("--paper", help="a4 or letter.")]


@contextmanager
def telling_errors() -> Iterator[None]:
    """Turn every error that wiregen raises on purpose into words on stderr and exit status 2."""
    from wiregen.errors import ArgumentError, WiregenError

    try:
        yield
    except WiregenError as error:
        from wiregen.paper.safe_text import clean

        # A terminal user knows options, not the names of a function's arguments.
        told = f"--{error.field.replace('_', '-')}: {error.words}" if isinstance(error, ArgumentError) else str(error)
        # What a user wrote is quoted in it; no character of that may command the terminal or turn the text around.
        typer.echo("\n".join(clean(line) for line in told.split("\n")), err=True)
        raise typer.Exit(BAD_INPUT) from None


def opened(rig: Path) -> Design:
    """Read a rig file and choose what it leaves "auto"."""
    from wiregen.design.design import load
    from wiregen.sizing.ask import sized

    design = load(rig)
    return sized(design) if design.open else design


def width() -> int:
    """Return the terminal's width, 80 where there is none, never more than 100: longer lines are hard to read."""
    import shutil

    return min(100, shutil.get_terminal_size((80, 24)).columns) if sys.stdout.isatty() else 80


def show(text: str) -> None:
    """Print text as UTF-8 whatever the locale says, so that no sign of ours can break a pipe."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8", "replace"))
    sys.stdout.buffer.flush()


def paper_of(word: str) -> Paper:
    """Return the paper that ``--paper`` names.

    Raises:
        InputError: No such paper is known.
    """
    from wiregen.errors import InputError, guess

    papers: dict[str, Paper] = {"a4": "a4", "letter": "letter"}
    if word.lower() not in papers:
        raise InputError(f"--paper {word!r} is not known{guess(word.lower(), papers)} Allowed: {', '.join(papers)}")
    return papers[word.lower()]
