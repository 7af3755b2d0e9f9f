"""What a disk holds after a power cut: a program's writes are listened to, and what it had not made sure of is dropped or torn.

``strace`` tells of every write and every sync with the moment it was over. Up to a moment, a file holds what was synced; of
what was written since, each sector of 512 bytes may have come through or not, and so may a new name, length or a removal.
"""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import sys
import time
from collections import defaultdict, deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import build
import pytest

from labelsvc.ledger import sqlite
from labelsvc.ledger.database import open_ledger
from labelsvc.operations.recording import Recorded, record

_CALLS = "openat,write,pwrite64,pwritev,ftruncate,fallocate,fsync,fdatasync,sync_file_range,rename,unlink"
_SECTOR = 512
_LINE = re.compile(r"(?P<pid>\d+) +(?P<at>[\d.]+) (?P<said>.*)")
_DONE = re.compile(r"(?P<call>\w+)\((?P<words>.*)\) += (?P<answer>\d+)(?:<(?P<opened>[^>]*)>)? <(?P<took>[\d.]+)>$")
_RESUMED = re.compile(r"<\.\.\. \w+ resumed>")
_FILE = re.compile(r"\d+<([^>]*)>")
_TEXT = re.compile(r'"([^"]*)"')
Change = Callable[[bytearray, random.Random | None], None]


def strace(log: Path, *command: str) -> list[str]:
    """Return the command that runs another one and logs what it says to the disk; without strace the test is left out."""
    program = shutil.which("strace")
    if program is None:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)("strace is not installed")
    return [
        program,
        "-f",
        "-y",
        "-xx",
        "-ttt",
        "-T",
        "-s",
        "9999999",
        "--seccomp-bpf",
        "-e",
        f"trace={_CALLS}",
        "-o",
        str(log),
        *command,
    ]


@dataclass(frozen=True)
class Said:
    """One call that came back without an error: when it was over, what it was, its words, and the file it opened."""

    over: float
    call: str
    words: str
    opened: str
    pid: str

    @property
    def file(self) -> str:
        """The file that was opened, or that the first word names."""
        named = _FILE.search(self.words)
        return self.opened or (_plain(named[1]) if named else "")


def heard(log: Path) -> list[Said]:
    """Return the calls of a log in the order in which they were over."""
    begun: dict[str, str] = {}
    found = []
    for line in log.read_text(encoding="ascii").splitlines():
        if (parts := _LINE.fullmatch(line)) is None:
            continue
        said, at = parts["said"], float(parts["at"])
        if said.endswith(" <unfinished ...>"):
            begun[parts["pid"]] = f"{at} {said.removesuffix(' <unfinished ...>')}"
            continue
        if _RESUMED.match(said):
            first, _, start = begun.pop(parts["pid"]).partition(" ")
            said, at = start + _RESUMED.sub("", said), float(first)
        if (done := _DONE.fullmatch(said)) is not None:
            found.append(Said(at + float(done["took"]), done["call"], done["words"], _plain(done["opened"] or ""), parts["pid"]))
    return sorted(found, key=lambda one: one.over)


def _plain(escaped: str) -> str:
    return _bytes(escaped).decode()


def _bytes(escaped: str) -> bytes:
    return bytes.fromhex(escaped.replace("\\x", ""))


@dataclass
class _Content:
    """What was synced of a file, and what was changed since."""

    synced: bytearray
    changes: list[Change] = field(default_factory=list)

    def after_the_cut(self, chance: random.Random | None) -> bytearray:
        found = bytearray(self.synced)
        for change in self.changes if chance else ():
            change(found, chance)
        return found


class Disk:
    """A folder on a disk, from a copy of how it was at the beginning.

    Args:
        folder: where the program works.
        before: the copy.
        calls: what it said to the disk.
    """

    def __init__(self, folder: Path, before: Path, calls: list[Said]) -> None:
        self._folder, self._before, self._calls = folder, before, deque(calls)
        self._files: dict[Path, _Content | None] = {}  # as the program sees them; None: there is none
        self._sure: dict[Path, _Content | None] = {}  # as they are named on the disk for sure
        self._places: dict[tuple[str, Path], int] = defaultdict(int)

    def go_on_until(self, moment: float) -> None:
        """Let everything happen that was over by a moment."""
        while self._calls and self._calls[0].over <= moment:
            self._hear(self._calls.popleft())

    def _hear(self, said: Said) -> None:
        if said.call in ("rename", "unlink"):
            self._named(*(self._folder / _plain(name) for name in _TEXT.findall(said.words)))
            return
        path = Path(said.file)
        if not path.is_relative_to(self._folder):
            return
        if said.call in ("fsync", "fdatasync"):
            self._sync(path)
        elif said.call == "openat":
            self._open(said, path)
        elif said.call != "sync_file_range":
            self._change(said, path)

    def _content(self, path: Path) -> _Content:
        if self._files.get(path) is None:
            there = self._before / path.relative_to(self._folder)
            is_old = path not in self._files and there.is_file()
            self._files[path] = _Content(bytearray(there.read_bytes() if is_old else b""))
            if is_old:
                self._sure[path] = self._files[path]
        found = self._files[path]
        assert found is not None
        return found

    def _open(self, said: Said, path: Path) -> None:
        self._places[said.pid, path] = 0
        if "O_CREAT" in said.words:
            self._content(path)
        if "O_TRUNC" in said.words:
            self._content(path).changes.append(_cut(0))

    def _named(self, path: Path, new: Path | None = None) -> None:
        if not path.is_relative_to(self._folder):
            return
        content = self._content(path)
        self._sure.setdefault(path, None)
        self._files[path] = None
        if new is not None:
            self._files[new] = content

    def _sync(self, path: Path) -> None:
        if self._files.get(path) is None and (
            path == self._folder or not (self._before / path.relative_to(self._folder)).is_file()
        ):
            self._sure.update({one: content for one, content in self._files.items() if one.parent == path})
            return
        content = self._content(path)
        for change in content.changes:
            change(content.synced, None)
        content.changes.clear()
        self._sure[path] = content  # a file that is synced keeps its name, on the file systems of Linux

    def _change(self, said: Said, path: Path) -> None:
        content = self._content(path)
        numbers = [int(word) for word in re.findall(r"(?<=, )(\d+)(?=$|,)", said.words)]
        if said.call in ("ftruncate", "fallocate"):
            content.changes.append(_cut(numbers[-1]) if said.call == "ftruncate" else _lengthen(sum(numbers[-2:])))
            return
        written = b"".join(_bytes(one) for one in _TEXT.findall(said.words))
        if said.call == "write":
            place = self._places[said.pid, path]
            self._places[said.pid, path] += len(written)
        else:
            place = numbers[-1]
        content.changes.append(_put(place, written))

    def after_a_power_cut(self, folder: Path, chance: random.Random | None = None) -> None:
        """Write down what is left on the disk.

        Args:
            folder: into which; it is made.
            chance: which of what was not sure came through; nothing if None.
        """
        shutil.copytree(self._before, folder, copy_function=shutil.copy2)
        left = self._files if chance is not None and chance.random() < 0.5 else self._sure
        for path, content in left.items():
            file = folder / path.relative_to(self._folder)
            if content is None:
                file.unlink(missing_ok=True)
            else:
                file.write_bytes(content.after_the_cut(chance))


def _put(place: int, written: bytes) -> Change:
    def put(content: bytearray, chance: random.Random | None) -> None:
        for first in range(0, len(written), _SECTOR):
            if chance is None or chance.random() < 0.5:
                part = written[first : first + _SECTOR]
                _lengthen(place + first + len(part))(content, None)
                content[place + first : place + first + len(part)] = part

    return put


def _cut(length: int) -> Change:
    def cut(content: bytearray, chance: random.Random | None) -> None:
        if chance is None or chance.random() < 0.5:
            del content[length:]
            content.extend(bytes(length - len(content)))

    return cut


def _lengthen(length: int) -> Change:
    def lengthen(content: bytearray, _chance: random.Random | None) -> None:
        content.extend(bytes(max(0, length - len(content))))

    return lengthen


@dataclass(frozen=True)
class Answer:
    """What a station was told, and when it had heard it."""

    at: float
    fact: int
    codes: tuple[str, ...]


def answers(lines: Iterator[str]) -> Iterator[Answer]:
    """Read what ``work`` printed."""
    for line in lines:
        at, fact, codes = json.loads(line)
        yield Answer(at, fact, tuple(codes))


def work(url: str, rounds: int, *settings: str) -> None:
    """Receive goods and cut them; print each answer with its moment.

    Args:
        url: of the database.
        rounds: how often.
        settings: of SQLite in the place of our own, to see what they would lose.
    """
    sqlite._PRAGMAS = settings or sqlite._PRAGMAS  # type: ignore[misc]
    ledger = open_ledger(url)
    for _ in range(rounds):
        animal = _told(record(ledger, "receive", build.body("receive", at="2026-03-02"), now=build.NOW, who="Ada"))
        _told(record(ledger, "cut", build.body("cut", from_=animal, at="2026-03-03"), now=build.NOW, who="Ada"))


def _told(recorded: Recorded) -> str:
    sys.stdout.write(f"{json.dumps([time.time(), recorded.fact, list(recorded.codes)])}\n")
    sys.stdout.flush()
    return recorded.codes[0]


if __name__ == "__main__":
    work(sys.argv[1], int(sys.argv[2]), *sys.argv[3:])
