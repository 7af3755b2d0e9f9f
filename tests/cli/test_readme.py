"""The README's lines run one after the other on an empty database, as it says."""

import shlex
from pathlib import Path

import build
from by_hand import Hand

README = Path(__file__).parents[2] / "README.md"


def commands(text: str) -> list[list[str]]:
    return [
        shlex.split(line, comments=True)[1:] for line in text.replace("\\\n", " ").splitlines() if line.startswith("labelsvc ")
    ]


def is_for_a_printer(words: list[str]) -> bool:
    return words[0] == "printers" or "--printer" in words


def test_readme_lines_when_run_in_order_on_an_empty_database_then_each_does_its_work(hand: Hand, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = README.read_text(encoding="utf-8")
    lines = [words for words in commands(text) if not is_for_a_printer(words)]
    code = ""
    for words in lines:
        answer = hand(*[word.replace("CODE", code) for word in words])
        if words[0] == "pack":
            code = answer.out.partition("Codes: ")[2].partition(",")[0]
    assert len(lines) > 20
    assert (tmp_path / "tag.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF")


def test_readme_lines_for_a_printer_when_there_is_one_then_it_prints(hand: Hand, tag_and_label_printer):
    shop = build.new_shop(str(hand.database))
    piece = shop.green_piece(marker="M 016")
    shop.cure([piece], (shop.ingredient(), "30 g"))
    shop.string(piece, "1000 g", tare="20 g", at="2026-03-20")
    shop.ledger.close()
    text = README.read_text(encoding="utf-8").replace("ipp://192.0.2.7/ipp/print", tag_and_label_printer.uri)
    lines = [words for words in commands(text) if is_for_a_printer(words)]
    said = [hand(*words).out for words in lines]
    assert "ready" in said[1]
    assert said[-1].endswith("Printed on Tags.\n")
    assert len(tag_and_label_printer.documents(2)) == 2
