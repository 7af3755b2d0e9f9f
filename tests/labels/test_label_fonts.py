"""The measures of the typefaces, against two other libraries that read the same files."""

import pytest
from PIL import ImageFont
from reportlab.pdfbase.ttfonts import TTFont

from labelsvc.errors import LayoutError
from labelsvc.labels.fonts import FILES, face, font_file

NAMES = sorted(FILES)
LATIN_GREEK_CYRILLIC = [
    chr(code)
    for start, end in ((0x20, 0x7F), (0xA0, 0x180), (0x391, 0x3CA), (0x410, 0x450))
    for code in range(start, end)
    if code != 0x3A2
]


@pytest.mark.parametrize("name", NAMES)
def test_widths_of_every_character_are_those_reportlab_draws_with(name: str) -> None:
    drawn = TTFont(f"check-{name}", str(font_file(name))).face.charWidths
    widths = face(name).widths
    assert {ord(character): round(width * 1000) for character, width in widths.items()} == {
        code: round(width) for code, width in drawn.items() if chr(code) in widths
    } | {0xA0: round(widths["\u00a0"] * 1000)}  # reportlab gives it the width of a space, the condensed file one thousandth more
    assert len(widths) > 1500


@pytest.mark.parametrize("name", NAMES)
def test_heights_are_those_another_library_measures_at_a_thousand_dots(name: str) -> None:
    # FreeType through Pillow, one dot a thousandth of the em; flat letters and figures without overshoot
    drawn = ImageFont.truetype(str(font_file(name)), 1000)
    for text, height in (("x", face(name).x_height), ("H", face(name).cap_height)):
        top = drawn.getbbox(text, anchor="ls")[1]
        assert abs(-top - height * 1000) <= 1, text
    lowest = min(-drawn.getbbox(figure, anchor="ls")[1] for figure in "0123456789")
    assert abs(lowest - face(name).figure_height * 1000) <= 1


def test_figures_of_the_regular_face_are_lower_than_its_capitals_so_they_have_their_own_measure() -> None:
    assert face("regular").figure_height < face("regular").cap_height


@pytest.mark.parametrize("name", NAMES)
def test_ink_of_letters_with_accents_and_descenders_is_measured(name: str) -> None:
    drawn = ImageFont.truetype(str(font_file(name)), 1000)
    _, top, _, bottom = drawn.getbbox("Åg", anchor="ls")
    below, above = face(name).reach("Åg")
    assert abs(above * 1000 + top) <= 2
    assert abs(below * 1000 - bottom) <= 2
    assert face(name).reach(" ") == (0.0, 0.0)


@pytest.mark.parametrize("name", NAMES)
def test_letters_of_europe_are_all_there_and_nbsp_is_as_wide_as_a_space(name: str) -> None:
    held = face(name)
    assert [character for character in LATIN_GREEK_CYRILLIC if character not in held.widths] == []
    assert abs(held.width("\u00a0") - held.width(" ")) < 0.002


def test_condensed_is_narrower_at_the_same_height_of_x() -> None:
    assert face("condensed").width("preservative") < 0.93 * face("regular").width("preservative")
    assert abs(face("condensed").x_height - face("regular").x_height) < 0.002


def test_missing_glyph_is_refused_by_name() -> None:
    with pytest.raises(LayoutError, match=r"^tag\.toml status: expected characters the label typeface has, got U\+26A0 '⚠'$"):
        face("bold").refuse_missing("⚠ HELD", "tag.toml status")
