"""The content of a label and its way through JSON."""

import json
import re
from decimal import Decimal
from pathlib import Path

import pytest
from label_samples import SALE_CONTENT, SHELF, TAG_CONTENT

from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import LayoutError, UnitError
from labelsvc.labels.content import LabelContent, Run
from labelsvc.labels.samples import FOLDER


@pytest.mark.parametrize("content", [SALE_CONTENT, TAG_CONTENT, LabelContent({}, {"stop_at": "HALT"}, Decimal("0.9"))])
def test_content_through_json_text_comes_back_equal(content: LabelContent) -> None:
    assert LabelContent.from_json(json.loads(json.dumps(content.as_json()))) == content


def test_content_as_json_when_heights_are_exact_keeps_them_as_plain_text() -> None:
    stored = LabelContent({"a": (Run("x", True),)}, minimum_x_height_mm=Decimal("0.90"), smallest_mm={"a": Decimal(3)}).as_json()
    assert stored == {
        "elements": {"a": [{"text": "x", "emphasised": True}]},
        "captions": {},
        "minimum_x_height_mm": "0.9",
        "smallest_mm": {"a": "3"},
    }


def test_content_from_json_when_a_height_is_a_float_is_refused() -> None:
    with pytest.raises(UnitError, match="minimum_x_height_mm"):
        LabelContent.from_json({"elements": {}, "minimum_x_height_mm": 0.9})


def test_content_from_json_when_an_element_is_a_number_is_refused() -> None:
    with pytest.raises(LayoutError, match=r"^elements\.stop_at: expected text, or runs of text and emphasised, got 1043$"):
        LabelContent.from_json({"elements": {"stop_at": 1043}})


@pytest.mark.parametrize("empty", ["", "  ", (), (Run(" "),)])
def test_content_when_an_element_has_only_blanks_is_empty(empty: str | tuple[Run, ...]) -> None:
    assert LabelContent({"a": empty}).runs("a") == ()


@pytest.mark.parametrize("file", sorted((SHELF.shipped / FOLDER).glob("*.toml")), ids=lambda file: file.stem)
def test_every_code_in_the_samples_is_one_a_workshop_could_have(file: Path) -> None:
    # what the preview shows is copied by pencil and typed in: a code that is none would teach that codes fail
    said = file.read_text(encoding="utf-8").replace("\\u00a0", " ")
    found = re.findall(r"\b[A-Z][0-9]{6} ?[0-9A-Z]{3,6}\b", said)
    kinds = {LotCode.parse(code).kind for code in found}
    wanted = {"container_label": "ingredient", "sale_label": "pack", "tub_card": "piece"}.get(file.stem)
    assert wanted is None or kinds == {wanted}
    days = re.findall(r'lot_code_day = "(\w+)"\nlot_code_serial = "(\w+)', said)
    assert all(LotCode.parse(day + serial) for day, serial in days)
