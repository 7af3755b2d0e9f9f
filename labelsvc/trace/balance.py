"""Where every gram of a set of lots is: what came in, what went out to which end, what is still here, and the difference."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from labelsvc.units import grams_text


class Line(NamedTuple):
    """A posting of a flow that touches the set: the fact and flow, the account's kind, the lot's number or None."""

    fact: int
    flow: int
    kind: str
    lot: int | None
    milligrams: int


class Balance(NamedTuple):
    """Whole milligrams; ``out`` by end, ``here`` by state; in = out + here + difference."""

    came_in: int
    out: Mapping[str, int]
    here: Mapping[str, int]

    @property
    def difference(self) -> int:
        """What the postings cannot explain; 0 as long as every flow sums to zero."""
        return self.came_in - sum(self.out.values()) - sum(self.here.values())

    def as_json(self) -> dict[str, Any]:
        """Return the contract's balance: grams in, out by where they went or still are, and the difference."""
        gone = {kind: grams_text(milligrams) for kind, milligrams in sorted(self.out.items())}
        here = {f"here: {state}": grams_text(milligrams) for state, milligrams in sorted(self.here.items())}
        return {"in": grams_text(self.came_in), "out": {**gone, **here}, "difference": grams_text(self.difference)}
