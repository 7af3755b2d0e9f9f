"""Breaking emphasised text into lines."""

from itertools import pairwise

from labelsvc.labels.content import Run
from labelsvc.labels.wrap import Faces, Line, Word, breaks, in_lines, measured, words

FACES = Faces.named("regular", "bold")


def wrap(text: tuple[Word, ...], faces: Faces, limit: float) -> list[Line] | None:
    whole = measured(text, faces)
    begins = breaks(whole, limit)
    return None if begins is None else in_lines(whole, begins)


def test_words_when_emphasis_begins_inside_a_word_stay_one_word() -> None:
    assert list(words([Run("lactose ("), Run("milk", True), Run("), salt")])) == [
        (Run("lactose"),),
        (Run("("), Run("milk", True), Run("),")),
        (Run("salt"),),
    ]


def test_words_when_spaces_are_doubled_or_at_the_ends_are_not_empty() -> None:
    assert list(words([Run("  a  "), Run(" b ", True)])) == [(Run("a"),), (Run("b", True),)]


def test_lines_never_break_at_a_no_break_space() -> None:
    text = words([Run("nitrite (E\u00a0250) and (E\u00a0252)")])
    for limit in (3.2, 4.0, 5.0, 6.0):  # ems; the widest word, "(E 250)", has 3.1
        lines = wrap(text, FACES, limit)
        assert lines is not None
        assert all(line[0].text.count("(") == line[0].text.count(")") for line in lines), limit


def test_lines_fill_the_width_and_no_more_and_lose_no_word() -> None:
    source = "Keep refrigerated at 0 to 5 °C and once opened consume within three days of opening"
    text = words([Run(source)])
    lines = wrap(text, FACES, 12.0)
    assert lines is not None
    assert " ".join(line[0].text for line in lines) == source
    for line, following in pairwise(lines):
        first = following[0].text.split(" ")[0]
        assert FACES.width(line) <= 12.0 < FACES.width(line) + FACES.plain.width(" " + first)


def test_word_wider_than_the_line_gives_no_lines() -> None:
    assert wrap(words([Run("Lebensmittelunternehmer")]), FACES, 5.0) is None


def test_space_is_bold_only_inside_an_emphasised_stretch() -> None:
    (line,) = wrap(words([Run("with "), Run("sulphur dioxide", True), Run(" added")]), FACES, 99.0) or []
    assert line == (Run("with "), Run("sulphur dioxide", True), Run(" added"))
