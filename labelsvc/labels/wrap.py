"""Breaks emphasised text into lines by real widths. Lines break at U+0020 only, so U+00A0 keeps its neighbours together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from labelsvc.labels.content import Run
from labelsvc.labels.fonts import Face, face


@dataclass(frozen=True)
class Faces:
    """The faces of plain and of emphasised text in one paragraph."""

    plain: Face
    emphasised: Face

    @classmethod
    def named(cls, plain: str, emphasised: str) -> Faces:
        """Return a pair by the names of its faces."""
        return cls(face(plain), face(emphasised))

    def of(self, run: Run) -> Face:
        """Return the face of a run."""
        return self.emphasised if run.emphasised else self.plain

    def width(self, runs: Sequence[Run]) -> float:
        """Return the width of runs on one line, in ems."""
        return sum(self.of(run).width(run.text) for run in runs)

    def overhang(self, runs: Sequence[Run]) -> tuple[float, float]:
        """Return how far the ink of runs on one line goes beyond their width to the left and to the right, in ems."""
        inked = [run for run in runs if run.text]
        if not inked:
            return 0.0, 0.0
        first, last = inked[0], inked[-1]
        left, _ = self.of(first).overhang.get(first.text[0], (0.0, 0.0))
        _, right = self.of(last).overhang.get(last.text[-1], (0.0, 0.0))
        return left, right

    @property
    def x_height(self) -> float:
        """Height of x in ems, of the face where it is lower."""
        return min(self.plain.x_height, self.emphasised.x_height)

    @property
    def cap_height(self) -> float:
        """Height of a capital in ems, of the face where it is lower."""
        return min(self.plain.cap_height, self.emphasised.cap_height)

    @property
    def figure_height(self) -> float:
        """Height of the lowest figure in ems, of the face where it is lower."""
        return min(self.plain.figure_height, self.emphasised.figure_height)


Word = tuple[Run, ...]
Line = tuple[Run, ...]


@dataclass(frozen=True)
class Measured:
    """Words with what they take in ems, so that lines can be broken at many sizes without measuring again.

    Args:
        words: in order.
        widths: of each.
        gaps: of the space before each, on the same line.
        reaches: how far the ink of each goes below and above the baseline.
        overhang: the most that the ink of a line goes beyond its width, both sides together.
    """

    words: tuple[Word, ...]
    widths: tuple[float, ...]
    gaps: tuple[float, ...]
    reaches: tuple[tuple[float, float], ...]
    overhang: float

    def reach(self, begin: int, end: int) -> tuple[float, float]:
        """Return how far the ink of some words goes below and above the baseline."""
        some = self.reaches[begin:end]
        return max(low for low, _ in some), max(high for _, high in some)


def words(runs: Sequence[Run]) -> tuple[Word, ...]:
    """Split runs at spaces; a word keeps its parts, so that emphasis may begin and end inside it."""
    found: list[list[Run]] = [[]]
    for run in runs:
        for position, part in enumerate(run.text.split(" ")):
            if position:
                found.append([])
            if part:
                found[-1].append(Run(part, run.emphasised))
    return tuple(tuple(word) for word in found if word)


@lru_cache(maxsize=256)  # a paragraph is tried at several sizes, and comes again on the next label of the product
def measured(text: tuple[Word, ...], faces: Faces) -> Measured:
    """Return words with their widths and those of the spaces before them."""
    gaps = (faces.of(_gap(before[-1], after[0])).width(" ") for before, after in pairwise(text))
    beside = [faces.overhang(word) for word in text]
    return Measured(
        text,
        tuple(faces.width(word) for word in text),
        (0.0, *gaps),
        tuple(_reach(faces, word) for word in text),
        max((left for left, _ in beside), default=0.0) + max((right for _, right in beside), default=0.0),
    )


def _reach(faces: Faces, word: Word) -> tuple[float, float]:
    reaches = [faces.of(run).reach(run.text) for run in word]
    return max(low for low, _ in reaches), max(high for _, high in reaches)


def breaks(text: Measured, limit: float) -> list[int] | None:
    """Fill lines greedily.

    Args:
        text: words in order.
        limit: width of a line in ems.

    Returns:
        The numbers of the words that begin a line, or None where one word alone is wider than a line.
    """
    begins = []
    used = limit  # the first word begins a line
    for number, (width, gap) in enumerate(zip(text.widths, text.gaps, strict=True)):
        used += gap + width
        if used > limit or not number:
            if width > limit:
                return None
            begins.append(number)
            used = width
    return begins


def _line(text: Measured, begin: int, end: int) -> Line:
    """Return some words as one line, neighbours of one emphasis made one run."""
    joined: list[Run] = []
    for before, word in enumerate(text.words[begin:end], begin - 1):
        parts = word if before < begin else (_gap(text.words[before][-1], word[0]), *word)
        for run in parts:
            if joined and joined[-1].emphasised == run.emphasised:
                joined[-1] = Run(joined[-1].text + run.text, run.emphasised)
            else:
                joined.append(run)
    return tuple(joined)


def in_lines(text: Measured, begins: Sequence[int]) -> list[Line]:
    """Return words in lines.

    Args:
        text: words in order.
        begins: the numbers of the words that begin a line, as ``breaks`` gives them.
    """
    return [_line(text, begin, end) for begin, end in pairwise([*begins, len(text.words)])]


def _gap(before: Run, after: Run) -> Run:
    """Return the space between two words: emphasised only inside an emphasised stretch."""
    return Run(" ", before.emphasised and after.emphasised)
