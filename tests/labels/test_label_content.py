"""The content of a label and its way through JSON."""

import json
from decimal import Decimal

import pytest
from label_samples import SALE_CONTENT, TAG_CONTENT

from labelsvc.errors import LayoutError, UnitError
from labelsvc.labels.content import LabelContent, Run


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
