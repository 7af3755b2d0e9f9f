"""Works a workshop by commands alone: calls the command line as a person or a script would and keeps what it answered."""

import csv
import io
import json
import shlex
import sqlite3
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labelsvc.cli import run


@dataclass(frozen=True)
class Answer:
    """What a command answered: exit code, standard output and standard error."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)

    @property
    def error(self) -> dict[str, Any]:
        return dict(self.json["error"])


@dataclass(frozen=True)
class Hand:
    """Someone at a keyboard with one database: a file, or a URL."""

    database: Path | str

    def ask(self, *words: str, given: str = "") -> Answer:
        """Run a command line as it is."""
        out, err, stdin = io.StringIO(), io.StringIO(), sys.stdin
        sys.stdin = io.StringIO(given)
        try:
            with redirect_stdout(out), redirect_stderr(err):
                code = run(words)
        finally:
            sys.stdin = stdin
        return Answer(code, out.getvalue(), err.getvalue())

    def refused(self, *words: str, given: str = "") -> Answer:
        """Run a command on the database."""
        return self.ask(*words, "--database", str(self.database), given=given)

    def __call__(self, *words: str, given: str = "") -> Answer:
        """Run a command on the database that must succeed."""
        answer = self.refused(*words, given=given)
        assert answer.code == 0, answer.err
        return answer

    def typed(self, line: str) -> list[str]:
        """Record by a friendly command, typed as one line in a shell, and return the codes it gave out."""
        return self.codes(*shlex.split(line))

    def codes(self, *words: str) -> list[str]:
        """Record by a friendly command and return the codes it gave out."""
        return list(self(*words, "--json").json["codes"])

    def record(self, fact: str, /, *options: str, **fields: Any) -> Answer:
        """Record with JSON; ``from_`` and ``class_`` stand for from and class."""
        return self("record", fact, *options, given=json.dumps(named(fields)))

    def refuse(self, fact: str, /, *options: str, **fields: Any) -> Answer:
        """Offer a fact with JSON that may be refused."""
        return self.refused("record", fact, *options, given=json.dumps(named(fields)))

    def compute(self, name: str, /, **request: Any) -> Answer:
        """Compute from JSON; touches no database."""
        return self.ask("compute", name, given=json.dumps(named(request)))

    def facts(self) -> int:
        """Return how many facts verify holds."""
        return int(self("verify", "--json").json["facts"])

    def rows(self, what: str) -> list[dict[str, str]]:
        """Return the rows of an export in CSV."""
        return list(csv.DictReader(io.StringIO(self("export", what).out)))

    def sealed(self) -> list[dict[str, Any]]:
        """Return the facts as they were sealed."""
        return [json.loads(line) for line in self("export", "facts").out.splitlines()]

    def said(self) -> list[tuple[str, dict[str, Any]]]:
        """Return kind and fields of every fact, what is personal in its place again."""
        sealed = self.sealed()
        texts = {row["key"]: row["text"] for fact in sealed for row in fact.get("personal", ())}
        return [
            (fact["kind"], {name: texts[one["personal"]] if isinstance(one, dict) and "personal" in one else one
                            for name, one in fact["body"]["given"].items()})
            for fact in sealed
        ]  # fmt: skip

    def copied_to(self, file: Path) -> "Hand":
        """Return someone with a copy of the database as it stands, all of it in one file."""
        source, target = sqlite3.connect(self.database), sqlite3.connect(file)
        source.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")
        source.close()
        target.close()
        return Hand(file)

    def exports(self) -> dict[str, str]:
        """Return every export as text."""
        return {what: self("export", what).out for what in ("facts", "postings", "contacts", "sales")}


@dataclass(frozen=True)
class Told:
    """The demo as it was built: who built it, the folder of its PDFs and what the command said."""

    hand: Hand
    folder: Path
    said: dict[str, Any]

    @property
    def codes(self) -> dict[str, list[str]]:
        return dict(self.said["codes"])


def named(fields: dict[str, Any]) -> dict[str, Any]:
    """Return fields whose names may end in an underscore, because Python keeps the word for itself."""
    return {name.rstrip("_"): value for name, value in fields.items()}
