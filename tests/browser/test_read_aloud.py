"""An outside judge (axe-core, fetched by npm) looks at the pages for those who hear them, see little or use no mouse."""

import npm_package
import pytest

PACKAGE = "axe-core@4.14.1"
WANTED = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    """The judge's program."""
    return (npm_package.fetched(PACKAGE, tmp_path_factory.mktemp("axe")) / "axe.min.js").read_text()


def wrong(bench, axe):
    """Return what the judge finds wrong with the page that is open."""
    bench.page.evaluate(axe)
    found = bench.page.evaluate("(wanted) => axe.run({ runOnly: wanted })", WANTED)
    assert len(found["passes"]) > 10  # it looked
    return [(one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]]


def test_pages_when_read_aloud_or_used_without_a_mouse_then_the_judge_finds_nothing_wrong(bench, axe):
    lot, *_ = bench.shop.packed("330 g", "340 g")
    piece = bench.shop.hanging_piece()
    for path in ("/", "/cut", f"/lot/{piece}", f"/trace/{lot}", f"/recall?reason=other&lot={lot}", f"/declaration/{lot}"):
        bench.open(path)
        assert wrong(bench, axe) == [], path
    bench.open(f"/weigh?piece={piece}")
    for weight, said in (("heavy", "Expected"), ("1100", "Yes, record it")):
        bench.fill("weight", weight)
        with bench.page.expect_event("load"):
            bench.press("Record the weight")
        bench.sees(said)
        assert wrong(bench, axe) == [], weight
