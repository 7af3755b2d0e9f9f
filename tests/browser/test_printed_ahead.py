"""Markers printed ahead: one press at the cut gives the next piece its code."""


def test_a_marker_when_pressed_then_it_goes_to_the_next_piece_and_is_offered_no_more(bench):
    animal = bench.shop.receive()
    first, second, _ = bench.shop.record("reserve", count=3).codes
    bench.open(f"/cut?from={animal}")
    bench.choose("pieces-0-product", "Cured neck")
    bench.press(first[:-3])
    assert bench.page.locator('[name="pieces-0-marker"]').input_value() == first
    bench.page.keyboard.type("1200")  # the weight of that piece waits
    bench.choose("pieces-1-product", "Cured neck")
    bench.page.locator("[data-markers] button:visible").first.click()
    assert bench.page.locator('[name="pieces-1-marker"]').input_value() == second
    bench.page.keyboard.type("1100")
    bench.press("Record the cut")
    bench.sees("2 cut")
    assert bench.shop.state(first).green_milligrams == 1_200_000
    assert bench.shop.state(second).green_milligrams == 1_100_000
    bench.open("/cut")
    assert bench.page.locator("[data-markers] button").count() == 1


def test_rows_when_all_have_a_marker_then_one_more_row_comes(bench):
    animal = bench.shop.receive()
    bench.shop.record("reserve", count=4)
    bench.open(f"/cut?from={animal}")
    for _ in range(4):
        bench.page.locator("[data-markers] button:visible").first.click()
    assert bench.page.locator('[name="pieces-3-marker"]').input_value()
    assert not bench.is_wide()
