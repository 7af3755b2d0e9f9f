"""The README's lines run one after the other on an empty database, as it says."""

import shlex
from pathlib import Path

from by_hand import Hand

README = Path(__file__).parents[2] / "README.md"


def test_readme_lines_when_run_in_order_on_an_empty_database_then_each_does_its_work(hand: Hand, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = README.read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [shlex.split(line, comments=True)[1:] for line in text.splitlines() if line.startswith("labelsvc ")]
    code = ""
    for words in lines:
        answer = hand(*[word.replace("CODE", code) for word in words])
        if words[0] == "pack":
            code = answer.out.partition("Codes: ")[2].partition(",")[0]
    assert len(lines) > 20
    assert (tmp_path / "tag.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF")
