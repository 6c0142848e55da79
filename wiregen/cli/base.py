"""What every command shares: the application, its options, errors in words, and printing."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from wiregen.design.design import Design
    from wiregen.draw.scene import Scene
    from wiregen.paper.blocks import Paper
    from wiregen.paper.sizes import Size

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
To = Annotated[
    Path | None,
    typer.Option(
        "--to", metavar="FILE", help="Write to FILE: .txt .md .html .csv .json .pdf or .svg.", show_default=False
    ),
]
Full = Annotated[bool, typer.Option("--full", help="Everything, not only what matters first.")]
#: What a paper is written as, by the ending of the file.
_ENDINGS = (".txt", ".md", ".html", ".htm", ".csv", ".json", ".pdf", ".svg")


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

    design = load(rig)
    if not design.open:
        return design
    # The sizer brings numpy with it: a chart whose sizes are all stated does not pay for that.
    from wiregen.sizing.ask import sized

    return sized(design)


def width() -> int:
    """Return the terminal's width, 80 where there is none, never more than 100: longer lines are hard to read."""
    import shutil

    return min(100, shutil.get_terminal_size((80, 24)).columns) if sys.stdout.isatty() else 80


def show(text: str) -> None:
    """Print text as UTF-8 whatever the locale says, so that no sign of ours can break a pipe."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8", "replace"))
    sys.stdout.buffer.flush()


def write_or_show(
    paper: Callable[[bool], Paper],
    to: Path | None,
    *,
    json: bool,
    force: bool,
    full: bool = False,
    size: Size = "a4",
    scenes: Callable[[Size], list[Scene]] | None = None,
) -> None:
    """Write an answer to a file, print it as JSON, or show it on the terminal.

    Args:
        paper: Makes the paper: whole when True, else what matters first. A file and JSON hold all of it.
        to: File to write; its ending says how.
        json: Print JSON as well.
        force: Replace a file that holds something else.
        full: Show all of it on the terminal too.
        size: ``a4`` or ``letter``.
        scenes: The drawing that ``.svg`` asks for; the sheets of the paper where there is none.

    Raises:
        InputError: The file cannot be written.
    """
    if json:
        from wiregen.paper.json_text import paper_json

        show(paper_json(paper(True)))
    if to is not None:
        from wiregen.paper.files import write_files

        for path in write_files(paper_files(paper(True), to, size, scenes), force=force):
            typer.echo(f"wrote {path}", err=json)
    elif not json:
        from wiregen.paper.terminal import terminal_text

        show(terminal_text(paper(full), width()))


def known_ending(to: Path | None) -> None:
    """Refuse a file whose ending says nothing, before anything is computed.

    Raises:
        InputError: With what is allowed.
    """
    from wiregen.errors import InputError, guess

    if to is None or to.suffix.lower() in _ENDINGS:
        return
    written = f"a file ending in {to.suffix!r}" if to.suffix else "a file without an ending"
    raise InputError(
        f"{to}: nothing is written as {written}{guess(to.suffix.lower(), _ENDINGS)} Allowed: {' '.join(_ENDINGS)}"
    )


def paper_files(
    paper: Paper, to: Path, size: Size = "a4", scenes: Callable[[Size], list[Scene]] | None = None
) -> dict[Path, str | bytes]:
    """Return what a paper is written as, by path; sheets of a drawing after the first get a number."""
    known_ending(to)
    ending = to.suffix.lower()
    if ending == ".svg":
        from wiregen.draw.paper_sheet import paper_sheets
        from wiregen.draw.svg import svg_text

        sheets = [svg_text(scene) for scene in (scenes(size) if scenes else paper_sheets(paper, size))]
        if len(sheets) == 1:
            return {to: sheets[0]}
        return {to.with_stem(f"{to.stem}-{number}"): text for number, text in enumerate(sheets, start=1)}
    return {to: _written(paper, ending, size)}


def _written(paper: Paper, ending: str, size: Size) -> str | bytes:
    if ending == ".pdf":
        from wiregen.paper.pdf.compile import paper_pdf

        return paper_pdf(paper, size).data
    from wiregen.paper.csv_text import csv_text
    from wiregen.paper.html import html_text
    from wiregen.paper.json_text import paper_json
    from wiregen.paper.markdown import markdown_text
    from wiregen.paper.terminal import terminal_text

    writers: dict[str, Callable[[Paper], str]] = {
        ".txt": terminal_text,
        ".md": markdown_text,
        ".csv": csv_text,
        ".json": paper_json,
    }
    return writers.get(ending, html_text)(paper)


def paper_of(word: str) -> Size:
    """Return the paper that ``--paper`` names.

    Raises:
        InputError: No such paper is known.
    """
    from wiregen.errors import InputError, guess

    papers: dict[str, Size] = {"a4": "a4", "letter": "letter"}
    if word.lower() not in papers:
        raise InputError(f"--paper {word!r} is not known{guess(word.lower(), papers)} Allowed: {', '.join(papers)}")
    return papers[word.lower()]
