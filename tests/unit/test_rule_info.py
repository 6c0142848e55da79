"""What there is to know of every rule, tied to the findings it makes and to the list of sources; how it is printed."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import get_args

import pytest

from tests.rigs import load
from tests.steps import check, explain, rules
from tests.unit.papers import bare
from wiregen.catalogue.sources import SOURCES
from wiregen.check.rule import SOURCE_WORDS
from wiregen.check.rules import RULES
from wiregen.errors import InputError
from wiregen.model.finding import SEVERITIES
from wiregen.model.rule import Cure, Harm
from wiregen.paper.blocks import Table
from wiregen.paper.terminal import terminal_text
from wiregen.questions.explain.paper import rule_data, rule_paper, rules_paper
from wiregen.rig.records import Rules

ROOT = Path(__file__).parent.parent.parent
DEMOS = ("observatory-bus", "ringing-lorry", "bad-example")
IDS = [rule.info.id for rule in RULES]


def words_given_to(keyword: str) -> set[str]:
    """Every text that some rule gives as this keyword of a call, over all modules of the check."""
    found: set[str] = set()
    for path in sorted((ROOT / "wiregen" / "check").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == keyword and isinstance(node.value, ast.Constant):
                found.add(str(node.value.value))
    return found


def test_every_rule_is_listed_once():
    """No id is used twice, and an id is small letters with hyphens, as it is typed after 'explain'."""
    assert len(set(IDS)) == len(IDS)
    assert [name for name in IDS if not re.fullmatch(r"[a-z]+(-[a-z]+)*", name)] == []


def test_every_id_that_a_finding_can_carry_is_explained():
    """The ids written in the rules, with those of the conflicts (which carry their kind), are the ids explained."""
    conflicts = {"short", "joined", "backfeed", "unsettled"}
    assert words_given_to("rule") | conflicts == set(IDS)


@pytest.mark.parametrize("demo", DEMOS)
def test_a_rule_s_findings_carry_its_id_and_one_of_its_severities(demo):
    """What the demos raise is explained, with the severity that is named there."""
    infos = {rule.info.id: rule.info for rule in RULES}
    found = check(load((ROOT / "wiregen" / "bundle" / "demo" / f"{demo}.toml").read_text("utf-8"))).findings
    assert [f.rule for f in found if f.severity not in infos[f.rule].severity] == []


def test_every_source_of_a_rule_is_known():
    """A source is a key of sources.toml or a word that says there is none; the keys in findings are keys too."""
    allowed = set(SOURCES) | set(SOURCE_WORDS)
    unknown = {key for rule in RULES for key in rule.info.sources if key not in allowed}
    assert unknown == set()
    written = {key for text in words_given_to("source") for key in text.split(",")}
    assert {key for key in written if key not in allowed} == set()


@pytest.mark.parametrize("demo", DEMOS)
def test_every_source_of_a_finding_is_known_to_its_rule(demo):
    """A finding names no source that its rule does not, but for those of the pinout and of the lamp type."""
    infos = {rule.info.id: rule.info for rule in RULES}
    found = check(load((ROOT / "wiregen" / "bundle" / "demo" / f"{demo}.toml").read_text("utf-8"))).findings
    for finding in found:
        named = set(infos[finding.rule].sources)
        if finding.source in named or named & {"sources of the pinout", "source of the lamp type"}:
            continue
        assert set(finding.source.split(",")) <= named, finding.rule


def test_every_rule_says_what_why_and_how_bad():
    """No field is empty but the formula of a verdict without a number; each severity word is one of the three."""
    for rule in RULES:
        info = rule.info
        assert all((info.title, info.what, info.why, info.limit, info.tighten, info.sources)), info.id
        assert any(word in info.severity for word in SEVERITIES), info.id
        assert (rule.look.__doc__ or "").strip(), info.id


def test_every_rule_says_what_cures_it_and_what_it_guards_against():
    """Both are words of the list, each word is used, and what names a fuse alone is not said to want a thicker wire."""
    assert {rule.info.cure for rule in RULES} == set(get_args(Cure))
    assert {rule.info.harm for rule in RULES} == set(get_args(Harm))
    fuses = {rule.info.id for rule in RULES if rule.info.cure == "fuses"}
    assert fuses == {"fuse-load", "fuse-inrush", "fuse-order", "short-limited"}
    brakes = {rule.info.id for rule in RULES if rule.look.__module__.endswith("brake_rules")}
    assert {rule.info.id for rule in RULES if rule.info.harm == "brakes"} == brakes


def test_the_limits_a_user_may_tighten_are_told():
    """Every key of [rules] is named by the rule it belongs to, so that 'explain' leads there."""
    keys = {field.alias or name for name, field in Rules.model_fields.items()}
    told = " ".join(rule.info.tighten for rule in RULES)
    assert {key for key in keys if not re.search(rf"\b{key}\b", told)} == set()


# --- how it is printed -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [60, 80, 100])
def test_a_rule_is_printed_whole_and_no_wider(width):
    """Every part of every rule is on the page, each source with its title, and no line is wider than asked."""
    for info in rules():
        text = terminal_text(rule_paper(info), width)
        # A line may end inside a word with a hyphen; the title stands in capitals.
        flat = bare(text)
        assert max(map(len, text.splitlines())) <= width
        for part in (info.title, info.what, info.why, info.limit, info.severity, info.formula, info.tighten):
            assert bare(part) in flat
        for key in info.sources:
            assert bare(SOURCES[key].title if key in SOURCES else key) in flat


def test_the_list_names_every_rule():
    """Without a name all rules are listed, in the order findings are printed."""
    (table, _) = rules_paper(rules()).blocks
    assert isinstance(table, Table)
    assert [row.cells[0].text for row in table.rows] == IDS


def test_a_rule_as_data_has_its_sources_with_titles():
    """Machines get the same, and null where a word stands in place of a source."""
    data = rule_data(explain("lamp-voltage"))
    assert set(data) == {
        "id", "title", "severity", "cure", "harm", "what", "why", "formula", "limit", "tighten", "sources",
    }  # fmt: skip
    keys = [source["key"] for source in data["sources"]]
    assert keys[:2] == ["S22", "S52"]
    assert data["sources"][0]["title"].startswith("California 13 CCR 1249")
    assert data["sources"][-1] == {"key": "source of the lamp type", "title": None, "where": None, "read": None}


def test_a_wrong_name_gives_the_nearest():
    """A mistyped rule is refused with the nearest one and the way to the list."""
    with pytest.raises(InputError, match=r"'lamp-volt' is not a rule; did you mean 'lamp-voltage'\?.*lists them all"):
        explain("lamp-volt")
    with pytest.raises(InputError, match=r"'\?' is not a rule\. 'wiregen explain' lists"):
        explain("?")
