"""``wiregen demo``: the whole job on an example rig."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiregen.cli.base import FINDINGS, Force, app, paper_files, show, telling_errors, width


@app.command("demo")
def demo(
    name: Annotated[str, typer.Argument(metavar="[NAME]", help="bus, lorry or bad.")] = "bus",
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder to write to.")] = Path("wiregen-demo"),
    force: Force = False,
) -> None:
    """Run the whole job on an example rig."""
    from wiregen.chart.paper import chart_paper
    from wiregen.loader.schema import rig_schema

    with telling_errors():
        from wiregen.draw.svg import svg_text
        from wiregen.paper.files import write_files
        from wiregen.paper.terminal import terminal_text
        from wiregen.questions.verdict.paper import report_paper

        source = _demo_file(name)
        files: dict[Path, str | bytes] = {
            out / source.name: source.read_text("utf-8"),
            out / "wiregen.schema.json": rig_schema(),
        }
        # Under its bare name, so that reports do not hang on where wiregen is installed.
        from wiregen.design.design import load_text
        from wiregen.sizing.ask import sized

        design = sized(load_text(source.read_text("utf-8"), name=source.name))
        made, report = chart_paper(design.chart), design.report
        for ending in ("html", "csv", "md", "svg"):
            files |= paper_files(made, out / f"chart.{ending}")
        files |= {out / f"{s}.svg": svg_text(scene) for s, scene in design.drawings().items()}
        for ending in ("txt", "json"):
            files |= paper_files(report_paper(report), out / f"check.{ending}")
        write_files(files, force=force)
        show(terminal_text(report_paper(report, full=False), width()))
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
    return Path(__file__).parent.parent / "bundle" / "demo" / f"{known[name]}.toml"
