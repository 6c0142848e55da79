"""JSON Schema of the files a user writes, for the completion and the hover texts of an editor.

A rig file uses it with a first line ``#:schema ./wiregen.schema.json``. What differs from the library's own
output: TOML has no null, so nothing may be null; automatic titles repeat the key; a default that is a table
only repeats the defaults of its keys; and there is no ``$id``, because editors take a relative one for an
address.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema


class _TomlSchema(GenerateJsonSchema):
    """The library's generator without what TOML does not have and an editor does not need."""

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ANN401 - a private union of the library
        return False

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        made = super().default_schema(schema)
        if made.get("default", 0) is None or isinstance(made.get("default"), dict):
            del made["default"]
        return made

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        made = super().model_schema(schema)
        if not schema["cls"].model_config.get("title"):
            made.pop("title", None)
        return made

    def tagged_union_schema(self, schema: core_schema.TaggedUnionSchema) -> JsonSchemaValue:
        made = super().tagged_union_schema(schema)
        made.pop("discriminator", None)
        return made


def json_schema(model: type[BaseModel]) -> dict[str, Any]:
    """Return the JSON Schema of what a user may write for ``model``, with the keys as a file has them."""
    made = model.model_json_schema(by_alias=True, schema_generator=_TomlSchema, mode="validation")
    for name, definition in made.get("$defs", {}).items():
        # The title of an enumeration comes in after the generator is done with it.
        if definition.get("title") == name and "enum" in definition:
            del definition["title"]
    return made


def schema_text(model: type[BaseModel]) -> str:
    """Return the schema as the text of a file: the same text in every run, with a line end at its end."""
    return json.dumps(json_schema(model), indent=2, ensure_ascii=False) + "\n"


def rig_schema() -> str:
    """Return the schema of a rig file."""
    from wiregen.rig.records import Rig

    return schema_text(Rig)


def pinout_schema() -> str:
    """Return the schema of a pinout file."""
    from wiregen.catalogue.connector import Connector

    return schema_text(Connector)
