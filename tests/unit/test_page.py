"""The page on which the controls can be worked: what it says, what it may do, how large it is."""

import base64
import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from typer.testing import CliRunner

from tests import steps
from tests.plain_solver import solve
from wiregen.bundle.page.data import page_data
from wiregen.bundle.page.guide import guide_sections
from wiregen.bundle.page.html import MOST_BYTES, page_text
from wiregen.circuit.build import vehicle_signals
from wiregen.cli import app
from wiregen.model.circuit import Conductor
from wiregen.model.corner import NOMINAL
from wiregen.model.fault_guide import FaultGuide, GuideEntry, GuideStep
from wiregen.model.live import LivePage
from wiregen.model.state import State, every_controls
from wiregen.solve.chosen import solve_chosen
from wiregen.solve.live import CARRIES_FROM_A

DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"
NAMES = ("observatory-bus", "ringing-lorry", "bad-example")
GUIDED = ("observatory-bus", "ringing-lorry")


@cache
def made(name: str) -> tuple[LivePage, str]:
    """Return the page of an example rig, as records and as HTML."""
    page = steps.live_page(steps.load(DEMOS / f"{name}.toml"))
    return page, page_text(page)


@cache
def guided(name: str) -> tuple[LivePage, str]:
    """Return the page of an example rig with its fault guide."""
    page = replace(made(name)[0], guides=steps.fault_guide(steps.load(DEMOS / f"{name}.toml")))
    return page, page_text(page)


@pytest.mark.parametrize("name", NAMES)
def test_every_setting_of_the_controls_leads_to_its_own_operating_point(name: str) -> None:
    """For each setting and half of the flash, the row the page shows is what that very state solves to."""
    loaded = steps.load(DEMOS / f"{name}.toml")
    signals = vehicle_signals(loaded)
    for circuit, one in zip(steps.build(loaded).circuits, made(name)[0].trailers, strict=True):
        settings = list(every_controls(signals))
        states = [State(controls, lit=lit) for controls in settings for lit in (True, False)]
        study = solve_chosen(circuit, signals, states, (NOMINAL,)).study
        shown = [one.table.states[row] for pair in one.table.rows for row in pair]
        volts = np.array([[np.nan if v is None else v for v in state.volts_v] for state in shown])
        amps = np.array([state.amps_a for state in shown], dtype=float)
        assert len(shown) == len(states)
        np.testing.assert_allclose(volts, study.voltages_v, atol=1e-7)
        np.testing.assert_allclose(amps, study.currents_a, atol=1e-6)


def test_page_counts_settings_as_its_script_does() -> None:
    """The number that the script makes of the controls, the last one fastest, names the setting it stands for."""
    page = made("observatory-bus")[0]
    controls = page_data(page)["controls"]
    for number, setting in enumerate(every_controls(page.signals)):
        chosen = []
        for field, values in controls:
            value = getattr(setting, field)
            chosen.append(values.index({True: "on", False: "off"}.get(value, value)))
        counted = 0
        for place, (_, values) in zip(chosen, controls, strict=True):
            counted = counted * len(values) + place
        assert counted == number


def test_page_numbers_are_the_plain_solver_s() -> None:
    """Volts and amps packed into the page are those of the plain solver, to the last digit that the page keeps."""
    loaded = steps.load(DEMOS / "observatory-bus.toml")
    circuit, table = steps.build(loaded).circuits[0], page_data(made("observatory-bus")[0])["trailers"][0]
    plain = solve(circuit, vehicle_signals(loaded))
    by_words = {state["w"]: state for state in table["states"]}
    assert len(by_words) == len(plain.points)
    for row, point in enumerate(plain.points):
        state = by_words[point.words]
        volts = np.array([np.nan if v is None else v / 100 for v in state["v"]])
        np.testing.assert_allclose(volts, plain.voltages_v[row], atol=0.0051)
        np.testing.assert_allclose(np.array(state["a"]) / 1000, plain.currents_a[row], atol=0.00051)


@pytest.mark.parametrize("name", NAMES)
def test_conditions_follow_from_volts_and_amps(name: str) -> None:
    """What is told as live has voltage; a conductor told as return carries current and is near ground."""
    for one in made(name)[0].trailers:
        terminals = one.table.circuit.terminals
        for state in one.table.states:
            volts = dict(zip(terminals, state.volts_v, strict=True))
            conditions = dict(zip(terminals, state.conditions, strict=True))
            for terminal, condition in conditions.items():
                assert (condition == "floating") == (volts[terminal] is None)
                if condition == "live":
                    assert (volts[terminal] or 0) >= 1
            for element, amps in zip(one.table.circuit.elements, state.amps_a, strict=True):
                if isinstance(element, Conductor) and abs(amps or 0) >= CARRIES_FROM_A:
                    assert conditions[element.a] in ("live", "return")


@pytest.mark.parametrize(("pages", "name"), [*((made, name) for name in NAMES), *((guided, name) for name in GUIDED)])
def test_page_allows_only_itself(pages: Callable[[str], tuple[LivePage, str]], name: str) -> None:
    """The policy names the hashes of the one style sheet and the one script; nothing else is there to load or run."""
    text = pages(name)[1]
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    scripts = re.findall(r"<script>(.*?)</script>", text, re.S)
    styles = re.findall(r"<style>(.*?)</style>", text, re.S)
    assert (len(scripts), len(styles)) == (1, 1)
    for kind, body in (("script-src", scripts[0]), ("style-src", styles[0])):
        digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
        assert f"{kind} &#x27;sha256-{digest}&#x27;" in policy[1]
    assert policy[1].startswith("default-src &#x27;none&#x27;")
    without = re.sub(r' href="#g\d+(-\d+)+"', "", text.replace('xmlns="http://www.w3.org/2000/svg"', ""))
    assert re.findall(r'(?:src|href|action|style)\s*=\s*"', without.split("<script>")[0]) == []
    assert "http" not in without.split("<script>")[0].replace("http-equiv", "")


@pytest.mark.parametrize("name", NAMES)
def test_page_stays_small(name: str) -> None:
    """One file of at most 300 kB, so that a phone opens it from its file store."""
    assert len(made(name)[1].encode()) <= MOST_BYTES == 300_000


@pytest.mark.parametrize("name", GUIDED)
def test_page_with_the_whole_fault_guide_stays_small(name: str) -> None:
    """Every symptom of the guide is on the page, and the page is still no larger than a phone likes."""
    page, text = guided(name)
    assert len(text.encode()) <= MOST_BYTES
    assert text.count('<div class="list"') == sum(len(guide.entries) for guide in page.guides)


def test_the_position_of_a_military_lighting_switch_is_said() -> None:
    """States without lights hold with the switch at STOP LIGHT; a European vehicle has no such position."""
    assert "taken to stand at STOP LIGHT; with it OFF B, E, J may be dead" in made("observatory-bus")[1]
    assert "STOP LIGHT" not in made("ringing-lorry")[1]


def test_ids_are_unique() -> None:
    """Two trailers' drawings and guides share a page; no id stands twice, and every link leads to one."""
    text = guided("observatory-bus")[1].split("<script")[0]
    ids = re.findall(r' id="([^"]*)"', text)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r' href="#([^"]*)"', text)) <= set(ids)


def test_same_rig_gives_same_bytes() -> None:
    """Nothing of the day or the run is in the page."""
    assert page_text(steps.live_page(steps.load(DEMOS / "bad-example.toml"))) == made("bad-example")[1]


def test_words_of_the_rig_stay_words() -> None:
    """Markup, script ends, entities and a right-to-left mark in names are shown as text, in tables, drawing, data."""
    hostile = "</script><script>alert(1)</script>&\u202e<b>"
    text = (DEMOS / "bad-example.toml").read_text("utf-8")
    name = re.search(r'^title = "(.*)"$', text, re.M)
    trailer = re.search(r'\[\[trailer\]\]\s+name = "(.*)"', text)
    assert name is not None
    assert trailer is not None
    text = text.replace(f'"{name[1]}"', json.dumps(hostile)).replace(f'"{trailer[1]}"', json.dumps(hostile))
    page = page_text(steps.live_page(steps.load_text(text)))
    assert page.count("<script") == 2
    assert page.count("</script") == 2
    assert "<b>" not in page
    assert "\u202e" not in page
    assert "&lt;script&gt;alert(1)" in page
    data = json.loads(page.split('id="data">')[1].split("</script>")[0])
    assert data["trailers"][0]["name"] == hostile


# --- the fault guide ---


class Walker:
    """A trailer's guide as the script reads it: places by id, where each answer leads."""

    def __init__(self, html: str) -> None:
        self.root = ElementTree.fromstring(html.replace(" hidden>", ">").replace(" open>", ">"))
        self.by_id = {one.get("id"): one for one in self.root.iter() if one.get("id")}

    def first(self, ident: str) -> ElementTree.Element:
        """Return the check that a place begins with; its suspects where it has no check."""
        place = self.by_id[ident]
        if place.tag == "li":
            return place
        found = place.find("ol/li")
        link = place.find("p/a")
        if found is None and link is not None:
            return self.first(link.attrib["href"][1:])
        suspects = place.find("ul")
        return found if found is not None else suspects if suspects is not None else place

    def after(self, check: ElementTree.Element, shown: ElementTree.Element) -> ElementTree.Element:
        """Return the check or the suspects that follow what a check shows."""
        link, suspects = shown.find("a"), shown.find("ul")
        if link is not None:
            return self.first(link.attrib["href"][1:])
        key, number, at = check.attrib["id"].split("-")
        return suspects if suspects is not None else self.by_id[f"{key}-{number}-{int(at) + 1}"]

    def answers(self, check: ElementTree.Element) -> dict[str, ElementTree.Element]:
        """Return what a check may show: where each answer leads, by its words."""
        return {
            words: self.after(check, one)
            for one in check.findall("ul/li")
            for words in (one.findtext("b") or "").split(" or ")
        }


def texts(suspects: ElementTree.Element) -> tuple[str, ...]:
    """The items of a list."""
    return tuple(one.text or "" for one in suspects.findall("li"))


def walked(walker: Walker, entry: GuideEntry, number: int, numbers: dict[tuple[str, str], int], key: str) -> int:
    """Follow one symptom on the page and hold every check against the record; return how many answers were tried."""
    now, tried = walker.first(f"{key}-{number}"), 0
    for step in entry.steps:
        assert step.words in (now.text or "")
        if step.access != "lamps" and step.setting:
            assert now.findtext("small") == f" In order: {step.well}."
        answers = walker.answers(now)
        assert set(answers) == {step.expect, *(words for words, _ in step.branches)}
        for words, suspects in step.branches:
            other = numbers.get((step.setting, words), number)
            if step.access == "lamps" and other != number:
                assert answers[words] is walker.first(f"{key}-{other}")
            else:
                assert texts(answers[words]) == suspects
            tried += 1
        now = answers[step.expect]
    assert texts(now) == entry.left
    return tried


@pytest.mark.parametrize("name", GUIDED)
def test_every_way_through_the_guide_is_that_of_the_record(name: str) -> None:
    """From each symptom, answer by answer, the page asks, expects and suspects what the record of the guide says."""
    page, text = guided(name)
    sections = re.findall(r'<details class="guide">.*?</details></details>', text, re.S)
    assert len(sections) == len(page.guides) == len(page.trailers)
    for number, (guide, section) in enumerate(zip(page.guides, sections, strict=True)):
        walker, key = Walker(section), f"g{number}"
        numbers = {seen: at for at, entry in enumerate(guide.entries, start=1) for seen in entry.pictures}
        links = {(one.text, one.attrib["href"]) for one in walker.root.findall("div[@class='pick']/ul/li/a")}
        assert links == {(picture, f"#{key}-{at}") for (_, picture), at in numbers.items()}
        tried = sum(walked(walker, entry, at, numbers, key) for at, entry in enumerate(guide.entries, start=1))
        assert tried == sum(len(step.branches) for entry in guide.entries for step in entry.steps) > 0
        for at, entry in enumerate(guide.entries, start=1):
            danger = walker.by_id[f"{key}-{at}"].findtext("p[@class='danger']")
            assert bool(danger) == bool(entry.danger)


def guide_of(words: str, symptoms: int = 1) -> FaultGuide:
    """A guide in which every word is the same."""
    step = GuideStep(
        words=words,
        access="adapter",
        setting=words,
        target=words,
        well=words,
        expect=words,
        branches=(("0 V", (words,)),),
    )
    entries = [
        GuideEntry(
            symptom=words, controls=words, pictures=((words, f"{words}{number}"),), shown=((words, words),),
            suspects=((words, 1.0),), steps=(step,), left=(f"left {number}",), danger=words,
        )
        for number in range(symptoms)
    ]  # fmt: skip
    return FaultGuide(title=words, trailer=words, digest="0123456789ab", entries=tuple(entries), cautions=(words,))


def test_words_of_the_guide_stay_words() -> None:
    """Markup, script ends, quotes and a right-to-left mark in a guide are shown as text."""
    hostile = '</script><script>alert(1)</script>&\u202e<b onclick="x">'
    text = page_text(replace(made("bad-example")[0], guides=(guide_of(hostile),)))
    assert text.count("<script") == text.count("</script") == 2
    assert 'onclick="' not in text
    assert "\u202e" not in text
    (section,) = re.findall(r'<details class="guide">.*?</details></details>', text, re.S)
    found = Walker(section).by_id["g0-1-1"]
    assert (found.text or "").endswith(hostile.replace("\u202e", "\ufffd"))


def test_a_guide_too_large_is_cut_to_the_likeliest_symptoms() -> None:
    """In little room the first symptoms stay, the page says how many are left out; in none it says where to look."""
    guide = guide_of("word " * 40, symptoms=30)
    (whole,) = guide_sections([guide], 1_000_000)
    room = len(whole.encode()) // 2
    (cut,) = guide_sections([guide], room)
    kept = cut.count('<div class="list"')
    assert 10 < kept < 30
    assert len(cut.encode()) <= room
    assert f"{30 - kept} less likely symptoms are left out" in cut
    assert "left out" not in whole
    assert "wiregen fault --guide" in guide_sections([guide], 100)[0]


def test_the_command_writes_the_page_with_or_without_the_guide(tmp_path: Path) -> None:
    """``page`` has the fault guide on it; ``--no-guide`` leaves it out."""
    for option, count in (([], 1), (["--no-guide"], 0)):
        to = tmp_path / f"{count}.html"
        done = CliRunner().invoke(app, ["page", str(DEMOS / "bad-example.toml"), "--to", str(to), *option])
        assert done.exit_code == 0
        assert to.read_text("utf-8").count("<summary>Find the fault") == count


def test_a_guide_without_symptoms_says_so() -> None:
    """A trailer on which no fault shows gets a sentence, not an empty list."""
    (section,) = guide_sections([replace(guide_of("word"), entries=())], 10_000)
    assert "No single fault of a likely kind" in section
    assert "<ol>" not in section


def test_lamps_tell_dim_and_too_bright() -> None:
    """In the bad example lamps are dim behind a thin cable and one on 24 V is too bright; in the good one none is."""

    def shows(name: str) -> set[str]:
        states = (state for one in made(name)[0].trailers for state in one.table.states)
        return {show for state in states for show in state.shows.values()}

    assert shows("bad-example") == {"dark", "dim", "bright"}
    assert shows("observatory-bus") == {"dark", "lit"}
