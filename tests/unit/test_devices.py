"""Every device and every supply: its record, its row of the table, and its way through all stages."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from tests.problems import only
from tests.rigs import BOX_FEED, load, rig
from wiregen.catalogue.devices import DEVICES, KINDS, SUPPLIES
from wiregen.design.design import Design
from wiregen.loader.schema import json_schema
from wiregen.loader.shapes import kind_word
from wiregen.model.circuit import Conductor, Converter, Fuse
from wiregen.questions.netlist.ask import netlists
from wiregen.questions.ways.numbers import parts
from wiregen.questions.workshop.ask import harness
from wiregen.rig.devices import Channel, ChannelBase, Supply
from wiregen.rig.records import Rig

CHANNELS = get_args(get_args(Channel)[0])
SUPPLY_RECORDS = get_args(get_args(Supply)[0])
#: What a channel must say beside its input and output, and a supply beside its kind.
MORE: dict[str, dict[str, str]] = {
    "resistor": {"resistance": "4 ohm"},
    "converter": {"fed_by": "box_feed", "continuous": "40 A"},
    "centre_tap": {"equaliser": "10 A"},
}


def with_device(device: str, *, logic: str = "", **more: Any) -> str:
    """Return a rig with one channel of a device: brakes behind a controller, a tail lamp behind any other."""
    braked = device == "brake_controller"
    signal, output = ("pedal", "brake") if braked else ("tail", "tail")
    channel = {"input": logic or signal, "output": output, "device": device, "name": "one", **MORE.get(device, {})}
    lamps, brakes = ([], {"brakes": {"magnets": 2}}) if braked else (["tail"], {})
    return rig(channels=[channel], lamps=lamps, pedal=True, **brakes, **more)


def with_supply(kind: str) -> str:
    """Return a rig on a kind of supply."""
    return rig(supply={"kind": kind, **MORE.get(kind, {})}, taps=[BOX_FEED])


def walk(design: Design) -> str:
    """Take a rig through every stage and return all words of the papers it prints on the way."""
    papers = harness(design)
    words = [f"{row.what} {row.note}" for row in papers.parts]
    words += [text for texts in netlists(design, "all off")[0].values() for text in texts.splitlines()]
    words += [row.channel for row in design.chart.pins]
    assert design.report.behaviour
    assert design.drawings()
    assert design.readings("all off").states
    return "\n".join(words)


def test_the_words_of_a_rig_file_are_the_rows_of_the_table():
    """No device without its row, no row without its device; elements find both in one table."""
    assert [kind_word(record) for record in CHANNELS] == list(DEVICES)
    assert [kind_word(record) for record in SUPPLY_RECORDS] == list(SUPPLIES)
    assert {**DEVICES, **SUPPLIES} == KINDS
    assert len(KINDS) == len(DEVICES) + len(SUPPLIES)


@pytest.mark.parametrize("device", DEVICES)
def test_a_device_goes_through_every_stage(device):
    """It is built, solved, charted, drawn, read, written as a netlist and bought under the words of its row."""
    kind, design = DEVICES[device], Design(load(with_device(device)))
    words = walk(design)
    assert f"one ({kind.word})" in words
    own = [e for e in design.circuits[0].elements if e.channel == "one" and not isinstance(e, Conductor | Fuse)]
    assert own or not kind.letter
    assert any(element.ref.startswith(f"-{kind.letter}") for element in own) or not own
    if kind.part:
        assert kind.part.split("{")[0] in words
        assert parts(design.built)[kind.many] == 1 + (kind.many == SUPPLIES["converter"].many)


@pytest.mark.parametrize("kind", SUPPLIES)
def test_a_supply_goes_through_every_stage(kind):
    """The same for what feeds the 12 V bus: its part is bought, and its lamps burn."""
    row, design = SUPPLIES[kind], Design(load(with_supply(kind)))
    words = walk(design)
    assert row.part.split("{")[0] in words
    assert bool(parts(design.built).get(row.many)) == bool(row.many)
    study = design.studies[0]
    (lamp,) = (e for e in design.circuits[0].elements if e.ref == "-E1")
    assert float(study.current_a(lamp.ref).max()) > 0.1


@pytest.mark.parametrize("device", [device for device, kind in DEVICES.items() if kind.on_bus])
def test_what_works_on_the_bus_wants_a_supply(device):
    """A device on the adapter's 12 V is refused where there is none, and one beside it is not."""
    assert only(with_device(device, supply=None)).message.startswith(f"this channel ({device}) needs the adapter's")


@pytest.mark.parametrize("device", [device for device, kind in DEVICES.items() if not kind.does_logic])
def test_what_passes_one_circuit_on_takes_no_logic(device):
    """Logic over two circuits is refused where nothing can do it."""
    assert "passes one circuit on" in only(with_device(device, logic="tail and stop")).message


@pytest.mark.parametrize("record", [*CHANNELS, *SUPPLY_RECORDS], ids=kind_word)
def test_a_key_of_another_kind_is_told_whose_it_is(record):
    """Every key of a sibling that this record has not is refused at its place, and its users are named."""
    word, is_channel = kind_word(record), issubclass(record, ChannelBase)
    own = {info.alias or name for name, info in record.model_fields.items()}
    others: dict[str, list[str]] = {}
    for sibling in CHANNELS if is_channel else SUPPLY_RECORDS:
        for name, info in sibling.model_fields.items():
            if (info.alias or name) not in own:
                others.setdefault(info.alias or name, []).append(kind_word(sibling))
    for key, users in others.items():
        text = with_device(word) if is_channel else with_supply(word)
        header = "[[adapter.channel]]" if is_channel else "[adapter.supply]"
        problem = only(text.replace(header, f'{header}\n{key} = "x"', 1))
        assert problem.message == f"{key} does nothing for {word}; it is for {', '.join(users)}"
        assert problem.marks[0].source_line == f'{key} = "x"'


def test_the_schema_has_one_table_a_kind():
    """An editor is offered exactly one table for each word, and each says its word."""
    made = json_schema(Rig)
    tables = made["$defs"]
    for place, words in (("channel", DEVICES), ("supply", SUPPLIES)):
        entry = tables["Adapter"]["properties"][place]
        offered = [one["$ref"].rpartition("/")[2] for one in entry.get("items", entry)["oneOf"]]
        assert [
            tables[name]["properties"]["device" if place == "channel" else "kind"]["const"] for name in offered
        ] == (list(words))
    assert "device" not in tables["RelayChannel"].get("required", [])
    assert all("required" in tables[name] for name in ("WireChannel", "ConverterSupply"))


def test_no_converter_of_a_circuit_is_without_a_row():
    """What a converter was made for is a word of the table, so that its part and its count are found."""
    for text in (*map(with_device, DEVICES), *map(with_supply, SUPPLIES)):
        made = Design(load(text)).circuits[0].of(Converter)
        assert all(KINDS[converter.device].part and KINDS[converter.device].many for converter in made)
