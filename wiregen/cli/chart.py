"""Commands that make papers: chart, draw, demo."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wiregen.cli.base import FINDINGS, Force, Json, PaperOption, RigFile, app, paper_of, show, telling_errors, width

if TYPE_CHECKING:
    from wiregen.model.chart import Chart


@app.command("chart")
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

    with telling_errors():
        paper_of(paper)
        made = pipeline.chart(pipeline.load(rig))
        if json:
            from wiregen.questions.verdict.data import chart_data, json_text

            show(json_text(chart_data(made)))
        if to is not None:
            from wiregen.paper.files import write_files

            for path in write_files(chart_files(made, to, paper), force=force):
                typer.echo(f"wrote {path}", err=json)
        elif not json:
            from wiregen.chart.text import terminal_text

            show(terminal_text(made, width()))


@app.command("draw")
def draw(
    rig: RigFile,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write the SVG files to.")] = Path(),
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Draw schematics and connector faces as SVG."""
    from wiregen import pipeline

    with telling_errors():
        from wiregen.draw.svg import svg_text
        from wiregen.paper.files import write_files

        scenes = pipeline.draw(pipeline.load(rig), paper=paper_of(paper))
        files = {out / f"{stem}.svg": svg_text(scene) for stem, scene in scenes.items()}
        for path in write_files(files, force=force):
            typer.echo(f"wrote {path}")


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
    from wiregen import pipeline

    with telling_errors():
        from wiregen.bundle.page.html import page_text
        from wiregen.errors import InputError
        from wiregen.paper.files import write_files

        if to.suffix.lower() not in (".html", ".htm"):
            raise InputError(f"{to}: the page is written as .html")
        loaded = pipeline.load(rig)
        guides = pipeline.fault_guide(loaded) if guide else ()
        text = page_text(pipeline.live_page(loaded, guides=guides))
        for path in write_files({to: text}, force=force):
            typer.echo(f"wrote {path}")


@app.command("demo")
def demo(
    name: Annotated[str, typer.Argument(metavar="[NAME]", help="bus, lorry or bad.")] = "bus",
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write to.")] = Path("wiregen-demo"),
    force: Force = False,
) -> None:
    """Run the whole job on an example rig."""
    from wiregen import pipeline

    with telling_errors():
        from wiregen.draw.svg import svg_text
        from wiregen.paper.files import write_files
        from wiregen.questions.verdict import data as report_json
        from wiregen.questions.verdict.paper import report_text

        source = _demo_file(name)
        files = {out / source.name: source.read_text("utf-8"), out / "wiregen.schema.json": pipeline.schema()}
        # Under its bare name, so that reports do not hang on where wiregen is installed.
        loaded = pipeline.load_text(source.read_text("utf-8"), name=source.name)
        built = pipeline.build(loaded)
        made, report = pipeline.chart(loaded, built), pipeline.check(loaded)
        for ending in ("html", "csv", "md", "svg"):
            files |= chart_files(made, out / f"chart.{ending}", "a4")
        files |= {out / f"{s}.svg": svg_text(scene) for s, scene in pipeline.draw(loaded, built).items()}
        files[out / "check.txt"] = report_text(report)
        files[out / "check.json"] = report_json.json_text(report_json.report_data(report))
        write_files(files, force=force)
        show(report_text(report, width(), brief=True))
        typer.echo(f"\nWrote {len(files)} files to {out}:")
        show("".join(f"  {path.name}\n" for path in files))
        rig = out / source.name
        typer.echo("\nNext: its controls on a phone, the papers for the bench, how to find a fault:")
        typer.echo(f"  wiregen page {rig} --to rig.html")
        typer.echo(f"  wiregen packet {rig} --out packet")
        typer.echo(f"  wiregen fault {rig}")
    if report.verdict != "clean":
        raise typer.Exit(FINDINGS)


def _demo_file(name: str) -> Path:
    from wiregen.errors import InputError, guess

    known = {"bus": "observatory-bus", "lorry": "ringing-lorry", "bad": "bad-example"}
    if name not in known:
        raise InputError(f"{name!r} is not an example{guess(name, known)} Allowed: {', '.join(known)}")
    return Path(__file__).parent.parent / "demo" / f"{known[name]}.toml"


def chart_files(made: Chart, to: Path, paper: str) -> dict[Path, str]:
    """Return the text of a chart file by path; sheets after the first get a number."""
    from wiregen.errors import InputError

    ending = to.suffix.lower()
    if ending == ".csv":
        from wiregen.chart.csv_text import csv_text

        return {to: csv_text(made)}
    if ending == ".md":
        from wiregen.chart.markdown import markdown_text

        return {to: markdown_text(made)}
    if ending in (".html", ".htm"):
        from wiregen.chart.html_text import html_text

        return {to: html_text(made)}
    if ending == ".svg":
        from wiregen import pipeline
        from wiregen.draw.svg import svg_text

        scenes = pipeline.chart_scenes(made, paper_of(paper))
        if len(scenes) == 1:
            return {to: svg_text(scenes[0])}
        return {to.with_stem(f"{to.stem}-{number}"): svg_text(scene) for number, scene in enumerate(scenes, start=1)}
    written = repr(ending) if ending else "a file without ending"
    raise InputError(f"{to}: no chart is written as {written}. Allowed: .svg .csv .md .html")
