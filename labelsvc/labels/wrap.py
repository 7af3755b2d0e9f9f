"""Breaks emphasised text into lines by real widths. Lines break at U+0020 only, so U+00A0 keeps its neighbours together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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


def words(runs: Sequence[Run]) -> list[Word]:
    """Split runs at spaces; a word keeps its parts, so that emphasis may begin and end inside it."""
    found: list[list[Run]] = [[]]
    for run in runs:
        for position, part in enumerate(run.text.split(" ")):
            if position:
                found.append([])
            if part:
                found[-1].append(Run(part, run.emphasised))
    return [tuple(word) for word in found if word]


def wrap(text: Sequence[Word], faces: Faces, limit: float) -> list[Line] | None:
    """Fill lines greedily.

    Args:
        text: words in order.
        faces: for their widths.
        limit: width of a line in ems.

    Returns:
        The lines, or None where one word alone is wider than a line.
    """
    lines: list[list[Run]] = []
    used = 0.0
    for word in text:
        width = faces.width(word)
        if width > limit:
            return None
        gap = _gap(lines[-1][-1], word[0]) if lines else None
        step = 0.0 if gap is None else faces.of(gap).width(" ")
        if gap is not None and used + step + width <= limit:
            lines[-1] += [gap, *word]
            used += step + width
        else:
            lines.append(list(word))
            used = width
    return [_joined(line) for line in lines]


def _gap(before: Run, after: Run) -> Run:
    """Return the space between two words: emphasised only inside an emphasised stretch."""
    return Run(" ", before.emphasised and after.emphasised)


def _joined(line: Sequence[Run]) -> Line:
    """Return a line with neighbours of one emphasis made one run."""
    joined: list[Run] = []
    for run in line:
        if joined and joined[-1].emphasised == run.emphasised:
            joined[-1] = Run(joined[-1].text + run.text, run.emphasised)
        else:
            joined.append(run)
    return tuple(joined)
