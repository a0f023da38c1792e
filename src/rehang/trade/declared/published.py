"""What else comes of a declaration: the JSON Schema of a file and the columns of a table."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, cast

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import core_schema

from rehang.trade.declared.values import OWN, Schema

__all__ = ["adapter", "columns", "published", "schema_of"]

_ADAPTERS: dict[type, TypeAdapter[Any]] = {}


def adapter(kind: type) -> TypeAdapter[Any]:
    """What pydantic reads a declared class by; made when it is first asked for."""
    if kind not in _ADAPTERS:
        _ADAPTERS[kind] = TypeAdapter(kind)
    return _ADAPTERS[kind]


class _Published(GenerateJsonSchema):
    """The schema as it is published: no titles, no defaults, tables that take no other key."""

    def sort(self, value: Any, parent_key: str | None = None) -> Any:
        return value

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> Schema:
        found = self.generate_inner(schema["schema"])
        default = schema.get("default")
        if isinstance(default, (bool, int, float, str)) and "$ref" not in found:
            found[f"{OWN}default"] = default
        return found

    def nullable_schema(self, schema: core_schema.NullableSchema) -> Schema:
        return self.generate_inner(schema["schema"])

    def dataclass_schema(self, schema: core_schema.DataclassSchema) -> Schema:
        kind: Any = schema["cls"]
        inner = self.generate_inner(schema["schema"])
        return {
            "type": "object",
            "description": getattr(kind, "__words__", ""),
            "properties": inner.get("properties", {}),
            "required": inner.get("required", []),
            "additionalProperties": False,
            f"{OWN}thing": getattr(kind, "__thing__", "This"),
            f"{OWN}needs": getattr(kind, "__needs__", ""),
            **getattr(kind, "__more__", {}),
        }


@cache
def schema_of(kind: type) -> Schema:
    """The schema of a declared class, with what only its sentences need (keys of ``x-``)."""
    made = adapter(kind).json_schema(schema_generator=_Published, by_alias=True)
    return cast("Schema", _inlined(made, made.get("$defs", {})))


def _inlined(schema: Any, known: Mapping[str, Schema]) -> Any:
    if isinstance(schema, dict):
        if "$ref" in schema:
            # What stands beside the reference is said of this place alone.
            beside = {key: one for key, one in schema.items() if key != "$ref"}
            return _inlined(known[schema["$ref"].rpartition("/")[2]], known) | beside
        return {key: _inlined(one, known) for key, one in schema.items() if key != "$defs"}
    return [_inlined(one, known) for one in schema] if isinstance(schema, list) else schema


def published(kind: type) -> Schema:
    """The JSON Schema of a declared class."""
    return cast("Schema", _stripped(schema_of(kind)))


def _stripped(schema: Any) -> Any:
    if isinstance(schema, dict):
        return {key: _stripped(one) for key, one in schema.items() if not key.startswith(OWN)}
    return [_stripped(one) for one in schema] if isinstance(schema, list) else schema


@cache
def columns(kind: type) -> dict[str, str]:
    """The columns that a table of them may have, each with its JSON type.

    Every key that holds one value is a column, and each key of an inner list as in ``range.top``.
    """
    found: dict[str, str] = {}
    for key, schema in published(kind)["properties"].items():
        inner = schema.get("items", {}).get("properties", {})
        found |= {f"{key}.{name}": one.get("type", "string") for name, one in inner.items()}
        if schema.get("type") not in ("array", "object"):
            found[key] = schema.get("type", "string")
    return found
