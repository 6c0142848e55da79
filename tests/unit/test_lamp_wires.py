"""The lamps' own wires behind the splice: a run of their own, and the trailer's cable where there is none."""

from __future__ import annotations

import pytest

from tests.rigs import RUNS, load, rig
from tests.steps import build
from wiregen.errors import InputError
from wiregen.model.circuit import Conductor

CABLE = {"from": "trailer", "to": "lamps", "length": "5 m", "size": "4 mm²", "insulation": "90 °C"}


def wires(*runs: object, **lamp: object) -> list[Conductor]:
    """The wires from the splice to a tail lamp and back."""
    entry = {"function": "tail", "type": "r5w-12v", **lamp}
    (circuit,) = build(load(rig(lamps=[entry], runs=[*RUNS, CABLE, *runs]))).circuits
    return [wire for wire in circuit.of(Conductor) if wire.stretch == "splice-lamp"]


def test_without_a_run_they_are_as_the_cable_but_for_the_length():
    """Size and insulation are the cable's, the length the default of 1 m."""
    assert {(w.size.label, w.insulation_c, w.length_m) for w in wires()} == {("4 mm²", 90.0, 1.0)}


def test_a_run_of_their_own_wins_key_by_key():
    """Size and length come from the run, the insulation still from the cable; the lamp's own branch beats both."""
    own = {"from": "splice", "to": "lamps", "length": "0.4 m", "size": "1 mm²"}
    assert {(w.size.label, w.insulation_c, w.length_m) for w in wires(own)} == {("1 mm²", 90.0, 0.4)}
    assert {w.length_m for w in wires(own, branch="2 m")} == {2.0}


def test_a_run_of_their_own_may_name_circuits():
    """A thicker return: the ground is picked by its circuit."""
    thin = {"from": "splice", "to": "lamps", "size": "1 mm²"}
    thick = {"from": "splice", "to": "lamps", "circuits": ["ground"], "size": "2.5 mm²"}
    assert {w.circuit: w.size.label for w in wires(thin, thick)} == {"tail": "1 mm²", "ground": "2.5 mm²"}


def test_a_run_that_ends_at_the_splice_is_refused():
    """The splice is a place to start from only."""
    with pytest.raises(InputError, match=r"splice to lamps"):
        load(rig(runs=[*RUNS, {"from": "trailer", "to": "splice", "length": "1 m"}]))
