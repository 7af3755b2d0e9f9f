"""``column IN (these values)`` with the values in one parameter: any number of lots, and one text for the statement cache.

A list of parameters ends at 32 766 on SQLite and 65 535 on PostgreSQL, fewer than the lots of a wide recall.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any

from sqlalchemy import BigInteger, Boolean, ColumnElement, Dialect, Text, bindparam
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import TypeDecorator, TypeEngine


class _Several(TypeDecorator[Collection[Any]]):
    """Several values as one: a JSON text on SQLite, an array on PostgreSQL."""

    impl = Text
    cache_ok = True

    def __init__(self, *, are_texts: bool) -> None:
        super().__init__()
        self.are_texts = are_texts

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return the type that the database takes them as."""
        if dialect.name == "postgresql":
            return dialect.type_descriptor(ARRAY(Text() if self.are_texts else BigInteger()))
        return dialect.type_descriptor(Text())

    def process_bind_param(self, value: Collection[Any] | None, dialect: Dialect) -> Any:
        """Return what the driver is given."""
        values = list(value or ())
        return values if dialect.name == "postgresql" else json.dumps(values)


class _Among(FunctionElement[bool]):
    type = Boolean()
    inherit_cache = True
    name = "among"

    def self_group(self, against: Any = None) -> _Among:
        """Stand as it is in AND and OR: written as ``... = 1`` SQLite would use no index."""
        return self


@compiles(_Among)
def _in_json(element: _Among, compiler: SQLCompiler, **words: Any) -> str:
    column, values = (compiler.process(clause, **words) for clause in element.clauses)
    return f"{column} IN (SELECT value FROM json_each({values}))"


@compiles(_Among, "postgresql")
def _in_array(element: _Among, compiler: SQLCompiler, **words: Any) -> str:
    column, values = (compiler.process(clause, **words) for clause in element.clauses)
    return f"{column} = ANY ({values})"


def among(column: ColumnElement[Any], values: Collection[int] | Collection[str]) -> ColumnElement[bool]:
    """Return the condition that a column is one of these values; none of them is fine.

    Args:
        column: of whole numbers or text.
        values: as many as there are.
    """
    return _Among(column, bindparam(None, values, type_=_several(column), unique=True))


def among_given(column: ColumnElement[Any], name: str) -> ColumnElement[bool]:
    """Return the condition that a column is one of the values given as the parameter of that name: for a statement made once."""
    return _Among(column, bindparam(name, type_=_several(column)))


def _several(column: ColumnElement[Any]) -> _Several:
    return _Several(are_texts=isinstance(column.type, Text))
