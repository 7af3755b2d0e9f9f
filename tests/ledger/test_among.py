"""Any number of values in one condition."""

import pytest
from sqlalchemy import select

from labelsvc.ledger.among import among
from labelsvc.ledger.tables import lots


def _codes(shop, condition):
    with shop.ledger.reading() as connection:
        return list(connection.execute(select(lots.c.code).where(condition).order_by(lots.c.id)).scalars())


@pytest.mark.parametrize("more", [0, 100_000])  # 100 000: beyond what either database takes as parameters of one statement
def test_values_are_found_among_any_number_of_others(shop, more):
    first, second = shop.receive(), shop.receive()
    assert _codes(shop, among(lots.c.id, [1, *range(3, 3 + more)])) == [first]
    assert _codes(shop, ~among(lots.c.id, [1, *range(3, 3 + more)])) == [second]


def test_none_is_among_no_values(shop):
    shop.receive()
    assert _codes(shop, among(lots.c.id, [])) == []


def test_text_is_taken_to_the_letter(shop):
    code = shop.receive()
    assert _codes(shop, among(lots.c.code, ["it's", '"', code])) == [code]
