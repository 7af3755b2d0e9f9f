"""The computations by name: pure functions from one JSON object to another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from labelsvc.codes.gs1 import compute_gs1
from labelsvc.codes.lot_code import LotCode
from labelsvc.curing.classes import ClassQuestions, compute_class
from labelsvc.curing.dose import DoseRequest, compute_dose
from labelsvc.curing.drying import DryingRequest, compute_drying
from labelsvc.curing.habits import HABITS, compute_habit
from labelsvc.curing.ingoing import IngoingRequest, compute_ingoing
from labelsvc.curing.intake import IntakeRequest, compute_intake
from labelsvc.curing.volumes import VolumeRequest, compute_volume
from labelsvc.curing.water import OfFinished, OfGreen, compute_water
from labelsvc.declaration.compute import DeclarationRequest, LabelRequest, NutritionRequest, declaration, label, nutrition
from labelsvc.shape import Shape, Text, read_shape


class LotCodeRequest(Shape, frozen=True):
    """A code to read."""

    code: Text


def compute_lot_code(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return code, kind and date of ``{code}``, the code written as it is printed.

    Raises:
        InputError: another field, or no text.
        CodeError: not a valid code.
    """
    code = LotCode.parse(read_shape(LotCodeRequest, request, "lot-code", strict=True).code)
    return {"code": str(code), "kind": code.kind, "date": code.day.isoformat()}


COMPUTATIONS: dict[str, Callable[[Mapping[str, Any]], dict[str, Any]]] = {
    "ingoing": compute_ingoing,
    "dose": compute_dose,
    "declaration": declaration,
    "nutrition": nutrition,
    "label": label,
    "gs1": compute_gs1,
    "drying": compute_drying,
    "water": compute_water,
    "lot-code": compute_lot_code,
    "habit": compute_habit,
    "class": compute_class,
    "volume": compute_volume,
    "intake": compute_intake,
}

# The shapes that read what a computation is asked; one of them where there are several. ``gs1`` reads its three forms itself.
REQUESTS: dict[str, tuple[type[Shape], ...]] = {
    "ingoing": (IngoingRequest,),
    "dose": (DoseRequest,),
    "declaration": (DeclarationRequest,),
    "nutrition": (NutritionRequest,),
    "label": (LabelRequest,),
    "drying": (DryingRequest,),
    "water": (OfFinished, OfGreen),
    "lot-code": (LotCodeRequest,),
    "habit": tuple(HABITS.values()),
    "class": (ClassQuestions,),
    "volume": (VolumeRequest,),
    "intake": (IntakeRequest,),
}
