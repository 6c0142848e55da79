"""``wiregen explain``: what a rule of the check looks at, and why."""

from __future__ import annotations

from typing import Annotated

import typer

from wiregen.cli.base import (
    Force,
    Json,
    PaperOption,
    To,
    app,
    known_ending,
    paper_of,
    telling_errors,
    write_or_show,
)


@app.command("explain")
def explain(
    rule: Annotated[str | None, typer.Argument(metavar="[RULE]", help="Rule id, as printed with a finding.")] = None,
    to: To = None,
    json: Json = False,
    paper: PaperOption = "a4",
    force: Force = False,
) -> None:
    """Explain a rule of the check: what it looks at, why, formula, limit, source."""
    from wiregen.questions.explain import ask

    with telling_errors():
        from wiregen.questions.explain.paper import rule_paper, rules_paper

        known_ending(to)
        size = paper_of(paper)
        made = rules_paper(ask.rules()) if rule is None else rule_paper(ask.explain(rule))
        write_or_show(lambda _: made, to, json=json, force=force, size=size)
