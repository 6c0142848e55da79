"""The command line: arguments in, pipeline, print, exit status (0 clean, 1 findings, 2 bad input).

Imports that cost time stand inside the commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen import __version__

if TYPE_CHECKING:
    from wiregen.draw.sheet import Paper
    from wiregen.model.chart import Chart
    from wiregen.plan.starter import Question

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
def _telling_errors() -> Iterator[None]:
    """Turn every error that wiregen raises on purpose into words on stderr and exit status 2."""
    from wiregen.errors import WiregenError

    try:
        yield
    except WiregenError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(BAD_INPUT) from None


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"wiregen {__version__}")
        raise typer.Exit


@app.callback()
def _start(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Wiring charts, schematics and checks for towing 12 V trailers with a 24 V vehicle."""


@app.command()
def chart(
    rig: RigFile,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Write to FILE: .svg, .csv, .md or .html.", show_default=False),
    ] = None,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Print the wiring chart, or write it to a file."""
    from wiregen import pipeline

    with _telling_errors():
        made = pipeline.chart(pipeline.load(rig))
        if json:
            from wiregen.packet.report_json import chart_data, json_text

            _print(json_text(chart_data(made)))
        if to is not None:
            from wiregen.packet.files import write_files

            for path in write_files(_chart_files(made, to, paper), force=force):
                typer.echo(f"wrote {path}", err=json)
        elif not json:
            from wiregen.packet.chart_text import terminal_text

            _print(terminal_text(made, _width()))


@app.command()
def check(
    rig: RigFile,
    json: Json = False,
    brief: Annotated[bool, typer.Option("--brief", help="Findings and verdict only.")] = False,
) -> None:
    """Prove every lamp, current and voltage on paper."""
    from wiregen import pipeline

    with _telling_errors():
        report = pipeline.check(pipeline.load(rig))
        if json:
            from wiregen.packet.report_json import json_text, report_data

            _print(json_text(report_data(report)))
        else:
            from wiregen.packet.report_text import report_text

            _print(report_text(report, _width(), brief=brief))
    if report.verdict != "clean":
        raise typer.Exit(FINDINGS)


@app.command()
def explain(
    rule: Annotated[str | None, typer.Argument(metavar="[RULE]", help="Rule id, as printed with a finding.")] = None,
    json: Json = False,
) -> None:
    """Explain a rule of the check: what it looks at, why, formula, limit, source."""
    from wiregen import pipeline

    with _telling_errors():
        from wiregen.packet.explain_text import rule_data, rule_text, rules_text
        from wiregen.packet.report_json import json_text

        if rule is None:
            known = pipeline.rules()
            _print(json_text([rule_data(one) for one in known]) if json else rules_text(known, _width()))
            return
        info = pipeline.explain(rule)
        _print(json_text(rule_data(info)) if json else rule_text(info, _width()))


@app.command()
def draw(
    rig: RigFile,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write the SVG files to.")] = Path(),
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Draw schematics and connector faces as SVG."""
    from wiregen import pipeline

    with _telling_errors():
        from wiregen.draw.svg import svg_text
        from wiregen.packet.files import write_files

        scenes = pipeline.draw(pipeline.load(rig), paper=_paper(paper))
        files = {out / f"{stem}.svg": svg_text(scene) for stem, scene in scenes.items()}
        for path in write_files(files, force=force):
            typer.echo(f"wrote {path}")


@app.command()
def readings(
    rig: RigFile,
    state: StateOption = None,
    trailer: TrailerOption = None,
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE.csv", help="Write CSV.", show_default=False)] = None,
    json: Json = False,
    force: Force = False,
) -> None:
    """Tell what a meter shows at every contact and lamp, with the range over battery and temperature."""
    from wiregen import pipeline

    with _telling_errors():
        from wiregen.packet import readings_data
        from wiregen.packet.files import write_files

        sheet = pipeline.readings(pipeline.load(rig), state, trailer)
        if json:
            from wiregen.packet.report_json import json_text

            _print(json_text(readings_data.readings_data(sheet)))
        if to is not None:
            _only_csv(to)
            for path in write_files({to: readings_data.readings_csv(sheet)}, force=force):
                typer.echo(f"wrote {path}", err=json)
        elif not json:
            from wiregen.packet.readings_text import readings_text

            _print(readings_text(sheet, _width()))


def _only_csv(to: Path) -> None:
    from wiregen.errors import InputError

    if to.suffix.lower() != ".csv":
        raise InputError(f"{to}: readings are written as .csv")


@app.command()
def netlist(
    rig: RigFile,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write to.")] = Path(),
    state: StateOption = None,
    corner: Annotated[str, typer.Option("--corner", metavar="WORDS", help="Such as 'battery low, hot'.")] = "nominal",
    trailer: TrailerOption = None,
    force: Force = False,
) -> None:
    """Write operating points as netlists for ngspice, one file a state."""
    from wiregen import pipeline

    with _telling_errors():
        from wiregen.packet.files import write_files

        texts, left_out = pipeline.netlists(pipeline.load(rig), state, corner, trailer)
        for words in left_out:
            typer.echo(f"left out, it has no operating point: {words}", err=True)
        for path in write_files({out / f"{stem}.cir": text for stem, text in texts.items()}, force=force):
            typer.echo(f"wrote {path}")


@app.command()
def pinouts(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="A pinout to show whole.")] = None,
    lamps: Annotated[bool, typer.Option("--lamps", help="List the lamp types instead.")] = False,
    json: Json = False,
) -> None:
    """List known connector wirings, or show one."""
    with _telling_errors():
        from wiregen.load.pinout_files import built_in_pinouts, find_pinout, read_pinout, unknown_pinout
        from wiregen.packet import pinout_text
        from wiregen.packet.report_json import json_text, pinout_data

        if lamps:
            _print(_lamps(json=json))
            return
        known = built_in_pinouts()
        if name is None:
            _print(json_text([pinout_data(*row) for row in known]) if json else pinout_text.list_text(known, _width()))
            return
        path = find_pinout(name, Path())
        if path is None:
            from wiregen.errors import InputError

            raise InputError(unknown_pinout(name))
        connector = read_pinout(path)
        text = pinout_text.show_text(name, connector, known, _width())
        _print(json_text(pinout_data(name, connector)) if json else text)


@app.command()
def schema(
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Write to FILE.", show_default=False)] = None,
    pinout: Annotated[bool, typer.Option("--pinout", help="The schema of a pinout file instead.")] = False,
    force: Force = False,
) -> None:
    """Print the JSON Schema of a rig file, for editors."""
    from wiregen import pipeline

    with _telling_errors():
        text = pipeline.schema(pinout=pinout)
        if to is None:
            _print(text)
            return
        from wiregen.packet.files import write_files

        for path in write_files({to: text}, force=force):
            typer.echo(f"wrote {path}")


@app.command()
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

    with _telling_errors():
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
    while True:
        typer.echo(f"{question.prompt} ", nl=False)
        line = sys.stdin.readline()
        if not line:
            raise InputError(f"no answer to: {question.text} (the input ended; --defaults takes the defaults)")
        text = line.strip()
        problem = question.problem(text)
        if not problem:
            return text
        typer.echo(problem)


@app.command()
def demo(
    name: Annotated[str, typer.Argument(metavar="[NAME]", help="bus, lorry or bad.")] = "bus",
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write to.")] = Path("wiregen-demo"),
    force: Force = False,
) -> None:
    """Run the whole job on an example rig."""
    from wiregen import pipeline

    with _telling_errors():
        from wiregen.draw.svg import svg_text
        from wiregen.packet import report_json
        from wiregen.packet.files import write_files
        from wiregen.packet.report_text import report_text

        source = _demo_file(name)
        files = {out / source.name: source.read_text("utf-8"), out / "wiregen.schema.json": pipeline.schema()}
        # Under its bare name, so that reports do not hang on where wiregen is installed.
        loaded = pipeline.load_text(source.read_text("utf-8"), name=source.name)
        built = pipeline.build(loaded)
        made, report = pipeline.chart(loaded, built), pipeline.check(loaded)
        for ending in ("html", "csv", "md", "svg"):
            files |= _chart_files(made, out / f"chart.{ending}", "a4")
        files |= {out / f"{s}.svg": svg_text(scene) for s, scene in pipeline.draw(loaded, built).items()}
        files[out / "check.txt"] = report_text(report)
        files[out / "check.json"] = report_json.json_text(report_json.report_data(report))
        write_files(files, force=force)
        _print(report_text(report, _width(), brief=True))
        typer.echo(f"\nWrote {len(files)} files to {out}:")
        _print("".join(f"  {path.name}\n" for path in files))
    if report.verdict != "clean":
        raise typer.Exit(FINDINGS)


def _demo_file(name: str) -> Path:
    from wiregen.errors import InputError, guess

    known = {"bus": "observatory-bus", "lorry": "ringing-lorry", "bad": "bad-example"}
    if name not in known:
        raise InputError(f"{name!r} is not an example{guess(name, known)} Allowed: {', '.join(known)}")
    return Path(__file__).parent / "demo" / f"{known[name]}.toml"


def _chart_files(made: Chart, to: Path, paper: str) -> dict[Path, str]:
    """Return the text of a chart file by path; sheets after the first get a number."""
    from wiregen.errors import InputError

    ending = to.suffix.lower()
    if ending == ".csv":
        from wiregen.packet.chart_csv import csv_text

        return {to: csv_text(made)}
    if ending == ".md":
        from wiregen.packet.chart_markdown import markdown_text

        return {to: markdown_text(made)}
    if ending in (".html", ".htm"):
        from wiregen.packet.chart_html import html_text

        return {to: html_text(made)}
    if ending == ".svg":
        from wiregen import pipeline
        from wiregen.draw.svg import svg_text

        scenes = pipeline.chart_scenes(made, _paper(paper))
        if len(scenes) == 1:
            return {to: svg_text(scenes[0])}
        return {to.with_stem(f"{to.stem}-{number}"): svg_text(scene) for number, scene in enumerate(scenes, start=1)}
    written = repr(ending) if ending else "a file without ending"
    raise InputError(f"{to}: no chart is written as {written}. Allowed: .svg .csv .md .html")


def _paper(word: str) -> Paper:
    from wiregen.errors import InputError, guess

    papers: dict[str, Paper] = {"a4": "a4", "letter": "letter"}
    if word.lower() not in papers:
        raise InputError(f"--paper {word!r} is not known{guess(word.lower(), papers)} Allowed: {', '.join(papers)}")
    return papers[word.lower()]


def _lamps(*, json: bool) -> str:
    from dataclasses import asdict

    from wiregen.catalogue.lamps import LAMPS
    from wiregen.packet.pinout_text import lamps_text
    from wiregen.packet.report_json import json_text

    lamps = list(LAMPS.values())
    return json_text([asdict(lamp) for lamp in lamps]) if json else lamps_text(lamps, _width())


def _width() -> int:
    """Return the terminal's width, 80 where there is none, never more than 100: longer lines are hard to read."""
    import shutil

    return min(100, shutil.get_terminal_size((80, 24)).columns) if sys.stdout.isatty() else 80


def _print(text: str) -> None:
    """Print text as UTF-8 whatever the locale says, so that no sign of ours can break a pipe."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8", "replace"))
    sys.stdout.buffer.flush()


def main() -> None:
    """Run the command line; a reader that closes the pipe early is no error."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
