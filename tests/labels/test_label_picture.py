"""A picture is drawn cell by cell in whole dots, in the middle of its box; a faulty one names its row."""

import pytest
from label_samples import one_element

from labelsvc.errors import DoesNotFitError, LayoutError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import lay_out


def picture(*rows: str, box: str = "[2, 2, 10, 10]"):
    listed = ", ".join(f'"{row}"' for row in rows)
    return one_element(f'kind = "picture"\nrows = [{listed}]', box=box)


def test_picture_is_as_large_as_whole_dots_let_it_be_and_in_the_middle_of_its_box() -> None:
    # 10 mm at 8 dots are 80 dots, from dot 16: 3 cells of 26 dots are 78, so 1 dot is left on each side
    (placed,) = lay_out(picture("#.#", ".##", "..."), [LabelContent({})], dots_per_mm=8, language="en")
    (mark,) = placed.rects
    assert mark.rects == ((17, 17, 26, 26), (69, 17, 26, 26), (43, 43, 52, 26))


def test_picture_whose_cells_would_be_under_a_dot_does_not_fit() -> None:
    with pytest.raises(DoesNotFitError, match=r"^one.toml it: expected a box of at least 0\.6 x 0\.1 mm for its cells"):
        lay_out(picture("#.#.#", box="[2, 2, 0.5, 10]"), [LabelContent({})], dots_per_mm=8, language="en")


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ((), "expected rows of # and ., one text each, got none"),
        (("##", "#"), "expected rows of 2 characters, each # or ., got row 2, '#'"),
        (("##", "#x"), "expected rows of 2 characters, each # or ., got row 2, '#x'"),
    ],
)
def test_picture_with_a_fault_names_its_row(rows: tuple[str, ...], said: str) -> None:
    with pytest.raises(LayoutError, match=r"^one.toml it rows: ") as caught:
        picture(*rows)
    assert said in str(caught.value)
