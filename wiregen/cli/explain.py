"""``wiregen explain``: what a rule of the check looks at."""

from __future__ import annotations

from typing import Annotated

import typer

from wiregen.cli.base import Json, app, show, telling_errors, width


@app.command("explain")
def explain(
    rule: Annotated[str | None, typer.Argument(metavar="[RULE]", help="Rule id, as printed with a finding.")] = None,
    json: Json = False,
) -> None:
    """Explain a rule of the check: what it looks at, why, formula, limit, source."""
    from wiregen.questions.explain import ask

    with telling_errors():
        from wiregen.paper.json_text import json_text
        from wiregen.questions.explain.paper import rule_data, rule_text, rules_text

        if rule is None:
            known = ask.rules()
            show(json_text([rule_data(one) for one in known]) if json else rules_text(known, width()))
            return
        info = ask.explain(rule)
        show(json_text(rule_data(info)) if json else rule_text(info, width()))
