"""The page on which the controls can be worked: what it says, what it may do, how large it is."""

import base64
import hashlib
import json
import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from wiregen import pipeline
from wiregen.build.circuit import vehicle_signals
from wiregen.model.circuit import Conductor
from wiregen.model.corner import NOMINAL
from wiregen.model.live import LivePage
from wiregen.model.state import State, every_controls
from wiregen.packet.page.data import controls_of, page_data
from wiregen.packet.page.html import page_text
from wiregen.solve.chosen import solve_chosen
from wiregen.solve.live import CARRIES_FROM_A
from wiregen.solve.operating_point import solve

DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "demo"
NAMES = ("observatory-bus", "ringing-lorry", "bad-example")


@cache
def made(name: str) -> tuple[LivePage, str]:
    """Return the page of an example rig, as records and as HTML."""
    page = pipeline.live_page(pipeline.load(DEMOS / f"{name}.toml"))
    return page, page_text(page)


@pytest.mark.parametrize("name", NAMES)
def test_every_setting_of_the_controls_leads_to_its_own_operating_point(name: str) -> None:
    """For each setting and half of the flash, the row the page shows is what that very state solves to."""
    loaded = pipeline.load(DEMOS / f"{name}.toml")
    signals = vehicle_signals(loaded)
    for circuit, one in zip(pipeline.build(loaded).circuits, made(name)[0].trailers, strict=True):
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
    controls = controls_of(page)
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
    loaded = pipeline.load(DEMOS / "observatory-bus.toml")
    circuit, table = pipeline.build(loaded).circuits[0], page_data(made("observatory-bus")[0])["trailers"][0]
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


@pytest.mark.parametrize("name", NAMES)
def test_page_allows_only_itself(name: str) -> None:
    """The policy names the hashes of the one style sheet and the one script; nothing else is there to load or run."""
    text = made(name)[1]
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    scripts = re.findall(r"<script>(.*?)</script>", text, re.S)
    styles = re.findall(r"<style>(.*?)</style>", text, re.S)
    assert (len(scripts), len(styles)) == (1, 1)
    for kind, body in (("script-src", scripts[0]), ("style-src", styles[0])):
        digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
        assert f"{kind} &#x27;sha256-{digest}&#x27;" in policy[1]
    assert policy[1].startswith("default-src &#x27;none&#x27;")
    without = text.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert re.findall(r'(?:src|href|action|style)\s*=\s*"', without.split("<script>")[0]) == []
    assert "http" not in without.split("<script>")[0].replace("http-equiv", "")


@pytest.mark.parametrize("name", NAMES)
def test_page_stays_small(name: str) -> None:
    """One file of at most 300 kB, so that a phone opens it from its file store."""
    assert len(made(name)[1].encode()) <= 300_000


def test_ids_are_unique() -> None:
    """Two trailers' drawings share a page; no id stands twice."""
    ids = re.findall(r' id="([^"]*)"', made("observatory-bus")[1].split("<script")[0])
    assert len(ids) == len(set(ids))


def test_same_rig_gives_same_bytes() -> None:
    """Nothing of the day or the run is in the page."""
    assert page_text(pipeline.live_page(pipeline.load(DEMOS / "bad-example.toml"))) == made("bad-example")[1]


def test_words_of_the_rig_stay_words() -> None:
    """Markup, script ends, entities and a right-to-left mark in names are shown as text, in tables, drawing, data."""
    hostile = "</script><script>alert(1)</script>&\u202e<b>"
    text = (DEMOS / "bad-example.toml").read_text("utf-8")
    name = re.search(r'^title = "(.*)"$', text, re.M)
    trailer = re.search(r'\[\[trailer\]\]\s+name = "(.*)"', text)
    assert name is not None
    assert trailer is not None
    text = text.replace(f'"{name[1]}"', json.dumps(hostile)).replace(f'"{trailer[1]}"', json.dumps(hostile))
    page = page_text(pipeline.live_page(pipeline.load_text(text)))
    assert page.count("<script") == 2
    assert page.count("</script") == 2
    assert "<b>" not in page
    assert "\u202e" not in page
    assert "&lt;script&gt;alert(1)" in page
    data = json.loads(page.split('id="data">')[1].split("</script>")[0])
    assert data["trailers"][0]["name"] == hostile


def test_lamps_tell_dim_and_too_bright() -> None:
    """In the bad example lamps are dim behind a thin cable and one on 24 V is too bright; in the good one none is."""

    def shows(name: str) -> set[str]:
        states = (state for one in made(name)[0].trailers for state in one.table.states)
        return {show for state in states for show in state.shows.values()}

    assert shows("bad-example") == {"dark", "dim", "bright"}
    assert shows("observatory-bus") == {"dark", "lit"}
