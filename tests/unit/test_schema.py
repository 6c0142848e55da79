"""The JSON Schema for editors."""

import enum
import json
import os
import re
import subprocess
import sys
from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema

from tests.rigs import load, rig
from wiregen.catalogue.circuits import SIGNALS
from wiregen.catalogue.connector import Connector, Record
from wiregen.loader.schema import json_schema, schema_text
from wiregen.rig.records import Rig


class Pole(enum.Enum):
    """Battery pole on the chassis."""

    NEGATIVE = "negative"
    POSITIVE = "positive"


class Bulb(Record):
    kind: Literal["bulb"]


class Diode(Record):
    kind: Literal["diode"]
    drop: Annotated[float, WithJsonSchema({"type": "string", "examples": ["0.7 V"]})] | None = None


class Box(Record):
    """A box."""

    title: str = Field(default="", max_length=9)
    """Words on the lid."""
    shown: int = Field(default=1, title="Shown in the list")
    pole: Pole | None = None
    start: str = Field(alias="from")
    load: tuple[Annotated[Bulb | Diode, Field(discriminator="kind")], ...] = ()
    first: Bulb | None = None
    second: Diode = Diode(kind="diode")
    either: int | str | None = None
    rows: tuple[int | None, ...] = ()


def _nodes(node):
    yield node
    if isinstance(node, dict | list):
        for inner in node.values() if isinstance(node, dict) else node:
            yield from _nodes(inner)


def _tables(schema):
    return [node for node in _nodes(schema) if isinstance(node, dict) and node.get("type") == "object"]


@pytest.mark.parametrize("model", [Box, Rig, Connector])
def test_nothing_an_editor_stumbles_over(model):
    """No null anywhere, no address of its own, no automatic title, and every table refuses unknown keys."""
    schema = json_schema(model)
    dicts = [node for node in _nodes(schema) if isinstance(node, dict)]
    assert None not in [value for node in dicts for value in node.values()]
    assert "null" not in [node.get("type") for node in dicts]
    assert all("$id" not in node and "discriminator" not in node for node in dicts)
    titles = {title for node in dicts if isinstance(title := node.get("title"), str)}
    assert titles == ({"Shown in the list"} if model is Box else set())
    closed = [node["additionalProperties"] for node in _tables(schema) if "properties" in node]
    assert closed == [False] * len(closed)
    assert len(closed) > 2


@pytest.mark.parametrize("model", [Rig, Connector])
def test_every_key_says_what_it_is(model):
    """An editor has a hover text for every key a user may write, and for every table."""
    schema = json_schema(model)
    tables = {"": schema, **{name: made for name, made in schema["$defs"].items() if "properties" in made}}
    silent = [
        f"{name}.{key}"
        for name, made in tables.items()
        for key, entry in made["properties"].items()
        if len(entry.get("description", "")) < 6
    ]
    assert (silent, [name for name, made in tables.items() if not made.get("description")]) == ([], [])


def test_every_signal_of_a_habit_is_described():
    """Each word that 'live' of a habit takes stands in the hover text of that key, stop_wins among them."""
    words = json_schema(Rig)["$defs"]["Habit"]["properties"]["live"]["description"]
    assert [signal for signal in SIGNALS if not re.search(rf"\b{signal}\b", words)] == []


def test_keys_and_words():
    """Keys are those of the file, descriptions those of the docstrings, and a choice lists its words."""
    schema = json_schema(Box)
    assert schema["description"] == "A box."
    assert schema["required"] == ["from"]
    assert list(schema["properties"])[:4] == ["title", "shown", "pole", "from"]
    assert schema["properties"]["title"] == {
        "default": "",
        "description": "Words on the lid.",
        "maxLength": 9,
        "type": "string",
    }
    assert schema["$defs"]["Pole"]["enum"] == ["negative", "positive"]


def test_what_may_be_left_out_is_not_an_alternative():
    """A value that may be absent has the schema of the value itself, so that an editor names what is allowed."""
    schema = json_schema(Box)
    assert schema["$defs"]["Diode"]["properties"]["drop"] == {"examples": ["0.7 V"], "type": "string"}
    assert schema["properties"]["first"] == {"$ref": "#/$defs/Bulb"}
    assert schema["properties"]["second"] == {"$ref": "#/$defs/Diode"}
    assert schema["properties"]["either"] == {"anyOf": [{"type": "integer"}, {"type": "string"}]}
    assert schema["properties"]["rows"] == {"default": [], "items": {"type": "integer"}, "type": "array"}


def test_a_model_that_takes_unknown_keys_says_so():
    """The schema forbids no more than the reader does."""

    class Loose(BaseModel):
        model_config = ConfigDict(title="Loose sheet")
        a: int = 1

    schema = json_schema(Loose)
    assert "additionalProperties" not in schema
    assert schema["title"] == "Loose sheet"


def test_text_is_the_same_in_every_run():
    """The file ends with a line end and is the same text in another process with another hash seed."""
    text = schema_text(Rig)
    assert text.endswith("}\n")
    assert json.loads(text) == json_schema(Rig)
    assert "°C" in text
    code = (
        "import sys; from wiregen.loader.schema import schema_text; from wiregen.rig.records import Rig;"
        "sys.stdout.buffer.write(schema_text(Rig).encode())"
    )
    env = {**os.environ, "PYTHONHASHSEED": "7", "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, env=env)
    assert done.stdout.decode() == text


def test_examples_of_when_a_wire_is_live_can_be_written():
    """The examples for a tap and a habit are of controls: each loads as written."""
    for name, key in (("Tap", "live"), ("Habit", "live")):
        examples = json_schema(Rig)["$defs"][name]["properties"][key]["examples"]
        tables = {
            "Tap": '[[vehicle.tap]]\nname = "wire"\nsource = "battery"\nfuse = "5 A"\n',
            "Habit": '[[vehicle.exception]]\ncircuit = "tail"\n',
        }
        for example in examples:
            text = f'{tables[name]}live = "{example}"\n'
            assert load(rig() + text).rig.title == "test rig"
