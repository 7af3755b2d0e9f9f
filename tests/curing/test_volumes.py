"""Spices by the spoon: the weights of USDA SR28 (number of the food beside each), refused for what brings nitrite or nitrate."""

import pytest

from labelsvc.curing.volumes import compute_volume
from labelsvc.errors import InputError


@pytest.mark.parametrize(
    ("name", "volume", "weight"),
    [
        ("ground black pepper", "1 tsp", "2.3 g"),  # 02030
        ("black pepper", "2 tbsp", "13.8 g"),  # 02030: 6.9 g
        ("whole black pepper", "1 tsp", "2.9 g"),
        ("coriander seed", "1.5 tsp", "2.7 g"),  # 02013: 1.8 g
        ("paprika", "½ tsp", "1.15 g"),  # 02028: 2.3 g
        ("brown sugar", "1/2 cup", "110 g"),  # 19334, packed: 220 g
        ("white sugar", "1 tbsp", "12.6 g"),  # 19335 has no tablespoon: 3 teaspoons of 4.2 g
        ("table salt", "1 tsp", "6 g"),  # 02047
        ("celery seed", "1 tsp", "2 g"),  # 02007
    ],
)
def test_spoon_of_the_table_is_so_many_grams(name, volume, weight):
    answer = compute_volume({"name": name, "volume": volume})
    assert answer["weight"] == weight
    assert answer["estimate"] is True
    assert "SR28" in answer["source"]


def test_salt_by_the_spoon_warns():
    assert [one["severity"] for one in compute_volume({"name": "sea salt", "volume": "2 tbsp"})["findings"]] == ["warn"]
    assert [one["severity"] for one in compute_volume({"name": "nutmeg", "volume": "1 tsp"})["findings"]] == ["note"]


@pytest.mark.parametrize(
    "name",
    ["curing salt", "nitrite salt", "pink salt", "saltpetre", "E 250", "potassium nitrate", "cure", "celery juice powder",
     "curing mix with sugar"],
)  # fmt: skip
def test_source_of_nitrite_or_nitrate_is_never_measured_by_the_spoon(name):
    with pytest.raises(InputError, match=r"never a volume.*differ by a quarter"):
        compute_volume({"name": name, "volume": "1 tsp"})


@pytest.mark.parametrize(
    ("asked", "field"),
    [({"name": "juniper", "volume": "1 tsp"}, "name"), ({"name": "nutmeg", "volume": "a pinch"}, "volume"),
     ({"name": "nutmeg", "volume": "1/0 tsp"}, "volume"), ({"name": "nutmeg", "volume": "5 g"}, "volume")],
)  # fmt: skip
def test_what_the_table_does_not_have_is_refused_by_name(asked, field):
    with pytest.raises(InputError) as refused:
        compute_volume(asked)
    assert refused.value.field == field
