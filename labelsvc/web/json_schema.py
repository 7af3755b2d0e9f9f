"""JSON Schema (2020-12) of the shapes that read requests: one source for what is read and for what is documented."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from msgspec import inspect

from labelsvc.facts.cards import Country
from labelsvc.shape import Exact, Percent, Ppm, Shape, Text
from labelsvc.units import Mass

_NUMBER = r"^-?[0-9]+(\.[0-9]+)?$"
# What a class of values looks like in JSON; a class not named here looks like the nearest class it derives from.
_VALUES: Mapping[type, dict[str, Any]] = {
    Mass: {
        "type": "string",
        "description": "A weight with its unit: mg, g, kg, oz or lb.",
        "examples": ["638 g", "2.5 kg", "1 lb 4 oz"],
    },
    Exact: {
        "type": ["string", "integer"],
        "pattern": _NUMBER,
        "description": "An exact number; never a float.",
        "examples": ["2.5"],
    },
    Percent: {
        "type": ["string", "integer"],
        "pattern": _NUMBER,
        "minimum": 0,
        "maximum": 100,
        "description": "Percent as a bare decimal.",
        "examples": ["2.5"],
    },
    Ppm: {
        "type": ["string", "integer"],
        "pattern": _NUMBER,
        "minimum": 0,
        "maximum": 1_000_000,
        "description": "mg per kg as a bare decimal.",
        "examples": ["120"],
    },
    Country: {"type": "string", "pattern": "^[A-Z]{2}$"},
    Text: {"type": "string", "pattern": r"\S"},
    int: {"type": ["integer", "string"], "pattern": "^[0-9]+$"},
}


def schemas_of(shapes: Mapping[str, type[Shape]]) -> dict[str, dict[str, Any]]:
    """Return the schema of each shape by the given name, and of the shapes inside them by their own.

    Args:
        shapes: name and shape; a name is a component of an OpenAPI document.
    """
    writer = _Writer({shape: name for name, shape in shapes.items()})
    for shape in shapes.values():
        writer.schema(inspect.type_info(shape))
    return writer.found


class _Writer:
    """Writes schemas, each shape once."""

    def __init__(self, names: Mapping[type, str]) -> None:
        self._names = dict(names)
        self.found: dict[str, dict[str, Any]] = {}

    def schema(self, kind: inspect.Type) -> dict[str, Any]:
        """Return the schema of a type; a shape is kept under its name and pointed to."""
        return _WRITERS[type(kind)](self, kind)

    def shape(self, kind: inspect.StructType) -> dict[str, Any]:
        """Keep a shape's schema and return a pointer to it."""
        name = self._name_of(kind.cls)
        if name not in self.found:
            self.found[name] = {}  # a part may hold parts of its own kind
            self.found[name] = {
                "type": "object",
                "description": " ".join((kind.cls.__doc__ or "").split()).partition(" Args:")[0].replace("``", "`"),
                "properties": {field.encode_name: self._field(field) for field in kind.fields},
                "required": [field.encode_name for field in kind.fields if field.required],
                "additionalProperties": False,
            }
        return {"$ref": f"#/components/schemas/{name}"}

    def _name_of(self, shape: type) -> str:
        if shape not in self._names:
            taken, name = set(self._names.values()), shape.__name__
            self._names[shape] = name if name not in taken else f"{shape.__module__.rpartition('.')[2]}.{name}"
        return self._names[shape]

    def _field(self, field: inspect.Field) -> dict[str, Any]:
        schema = self.schema(field.type)
        if isinstance(field.default, str):
            return {**schema, "default": str(field.default)}  # a plain one, whatever class of text it is
        return {**schema, "default": field.default} if isinstance(field.default, int) else schema

    def choice(self, kind: inspect.UnionType) -> dict[str, Any]:
        """Return the schema of one of several types; null where a field may be null as well as left out."""
        return {"anyOf": [self.schema(one) for one in kind.types]}

    def many(self, kind: inspect.VarTupleType | inspect.ListType) -> dict[str, Any]:
        """Return the schema of a list."""
        least = {"minItems": kind.min_length} if kind.min_length else {}
        return {"type": "array", "items": self.schema(kind.item_type), **least}

    def named(self, kind: inspect.DictType) -> dict[str, Any]:
        """Return the schema of an object whose names are free."""
        return {"type": "object", "additionalProperties": self.schema(kind.value_type)}


def _of_values(kind: inspect.CustomType) -> dict[str, Any]:
    return next(dict(_VALUES[base]) for base in kind.cls.__mro__ if base in _VALUES)


_WRITERS: Mapping[type, Callable[[_Writer, Any], dict[str, Any]]] = {
    inspect.StructType: _Writer.shape,
    inspect.UnionType: _Writer.choice,
    inspect.VarTupleType: _Writer.many,
    inspect.ListType: _Writer.many,
    inspect.DictType: _Writer.named,
    inspect.CustomType: lambda _, kind: _of_values(kind),
    inspect.LiteralType: lambda _, kind: {"enum": list(kind.values)},
    inspect.StrType: lambda _, kind: {"type": "string"},
    inspect.BoolType: lambda _, kind: {"type": "boolean"},
    inspect.IntType: lambda _, kind: {"type": "integer"},
    inspect.DateType: lambda _, kind: {"type": "string", "format": "date"},
    inspect.NoneType: lambda _, kind: {"type": "null"},
    inspect.AnyType: lambda _, kind: {},
}
