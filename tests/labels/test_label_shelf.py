"""The shelf: a person's own copy goes before the shipped layout, and an error leads to its line."""

from pathlib import Path

import pytest
from label_samples import SHELF
from test_label_layout import GOOD

from labelsvc.errors import InputError, LayoutError
from labelsvc.labels.layout_file import line_of, parse_layout
from labelsvc.labels.shelf import Shelf
from labelsvc.operations.previewing import keep_own, preview, shelf_said

TAG = (SHELF.shipped / "hanging_tag_60x120.toml").read_text(encoding="utf-8")


def test_own_copy_goes_before_the_shipped_layout_and_is_read_anew_after_a_change(tmp_path: Path) -> None:
    shelf = Shelf(SHELF.shipped, tmp_path / "mine")
    keep_own(
        shelf, "hanging_tag_60x120", TAG.replace('title = "Hanging tag', 'title = "My tag'), changed_from="hanging_tag_60x120"
    )
    assert shelf.layout("hanging_tag_60x120").title == "My tag 60 x 120 mm"
    keep_own(
        shelf,
        "hanging_tag_60x120",
        TAG.replace('title = "Hanging tag', 'title = "My second tag'),
        changed_from="hanging_tag_60x120",
    )
    assert shelf.layout("hanging_tag_60x120").title == "My second tag 60 x 120 mm"
    assert shelf.layout("sale_label_70x100") == SHELF.layout("sale_label_70x100")
    own = [one["name"] for one in shelf_said(shelf)["layouts"] if one["own"]]
    assert own == ["hanging_tag_60x120"]


def test_file_that_is_no_text_is_listed_with_its_fault_and_stops_no_other_label(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    for file in ("odd_tag.toml", "sheets/odd_sheet.toml"):
        (tmp_path / file).write_bytes(b'title = "\xe4"\n')
    shelf = Shelf(SHELF.shipped, tmp_path)
    assert [one.name for one in shelf.all_for("hanging_tag")] == [one.name for one in SHELF.all_for("hanging_tag")]
    tag = shelf.layout("hanging_tag_60x120")
    assert shelf.sheets_for(tag) == SHELF.sheets_for(tag)
    said = shelf_said(shelf)
    faults = [one["fault"] for one in (*said["layouts"], *said["sheets"]) if one["fault"]]
    assert faults == [
        f"{name}: expected a text in UTF-8, got byte 10 that is none. Save it as UTF-8 in the editor."
        for name in ("odd_tag.toml", "odd_sheet.toml")
    ]


@pytest.mark.parametrize("name", ["../escape", "", "UPPER", "a" * 61, "with space"])
def test_own_layout_stays_in_its_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match=r"^name: expected small letters, digits and underscores"):
        keep_own(Shelf(SHELF.shipped, tmp_path), name, TAG, changed_from="hanging_tag_60x120")
    assert list(tmp_path.iterdir()) == []


def test_layout_that_is_not_there_is_answered_with_those_that_are() -> None:
    with pytest.raises(LayoutError, match=r"^layout: expected one of .*case_label_148x105, .*, got nope$"):
        SHELF.layout("nope")


def test_own_layout_with_a_fault_is_listed_with_it_and_stands_in_for_nothing(tmp_path: Path) -> None:
    shelf = Shelf(SHELF.shipped, tmp_path)
    keep_own(shelf, "sale_label_mine", 'title = "x"', changed_from="sale_label_70x100")
    (mine,) = [one for one in shelf_said(shelf)["layouts"] if one["own"]]
    assert mine["fault"].startswith("sale_label_mine.toml purpose: expected one of hanging_tag, marker, ")
    assert "sale_label_mine" not in [layout.name for layout in shelf.for_purpose("sale_label", "eu")]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("box_mm = [2, 12, 30, 8]", "box_mm = [1.9, 12, 30, 8]", "box_mm = [1.9, 12, 30, 8]"),
        ("target = 0.3", "target = 0.2", "module_mm = { smallest = 0.25, target = 0.2, largest = 0.5 }"),
        ('kind = "text"\n', 'kind = "text"\nfont = "bold"\n', 'font = "bold"'),
        ("gap_mm = 1\n", "gap_mm = 1\ncolour = 3\n", "colour = 3"),
        ("width_mm = 60", 'width_mm = "60"', 'width_mm = "60"'),
        ("title = ", "title == ", 'title == "Two elements"'),
        ('caption.en = "g"', 'caption.en = "day|g"', 'caption.en = "day|g"'),
    ],
)
def test_error_leads_to_its_line(old: str, new: str, line: str) -> None:
    text = GOOD.replace(old, new, 1)
    with pytest.raises(LayoutError) as caught:
        parse_layout(text, "bad.toml")
    number = line_of(text, caught.value)
    assert number is not None
    assert text.splitlines()[number - 1] == line


def test_words_that_do_not_fit_lead_to_the_element() -> None:
    text = TAG.replace("box_mm = [3, 56.6, 41, 16.8]", "box_mm = [3, 56.6, 20, 16.8]")
    seen = preview(text, "mine.toml", SHELF)
    assert seen.fault is not None
    assert seen.fault.field == "mine.toml stop_at"
    assert seen.line is not None
    assert text.splitlines()[seen.line - 1] == "[elements.stop_at]"
    assert seen.png == b""


@pytest.mark.parametrize("which", ["sample", "worst"])
@pytest.mark.parametrize("name", SHELF.names())
@pytest.mark.parametrize("language", ["en", "de", "fr", "it", "es"])
def test_every_shipped_layout_is_seen_with_its_sample_and_its_worst_content(name: str, which: str, language: str) -> None:
    seen = preview(
        (SHELF.shipped / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml", SHELF, which=which, language=language
    )
    small = ("sale_label_small_70x60", "sale_label_tiny_38x25", "sale_label_us_70x100", "sale_label_us_to_cook_100x150")
    if which == "worst" and name in small:
        assert seen.fault is not None  # the longest content there is does not fit the smallest labels, and it says so
        assert "mm too" in seen.fault.message
        return
    assert seen.fault is None, seen.fault
    assert seen.png.startswith(b"\x89PNG")
