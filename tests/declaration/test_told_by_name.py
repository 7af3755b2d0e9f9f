"""What the name of an ingredient tells of allergens, whatever the language of the label; a word only ever adds.

The foods are of Annex II of Regulation (EU) No 1169/2011 and made of what stands there; that wine, vinegar and dried fruit hide
sulphites, and Worcester sauce anchovies, is common practice, no source.
"""

import pytest

from labelsvc.declaration.compute import declaration


def declared(name, language="en", **more):
    answer = declaration(
        {
            "market": "eu",
            "language": language,
            "on": "2026-03-02",
            "finished_weight": "1 kg",
            "food_name": "x",
            "ingredients": [
                {"name": "pork", "weight": "1 kg", "category": "meat", "species": "pig"},
                {"name": name, "weight": "10 g", **more},
            ],
        }
    )
    return answer["allergens"], [one["message"] for one in answer["findings"] if one["severity"] == "warn"]


@pytest.mark.parametrize("language", ["en", "fr", "de", "it", "es"])
@pytest.mark.parametrize(
    ("name", "key"),
    [("Senf", "mustard"), ("moutarde", "mustard"), ("Sellerie", "celery"), ("sedano", "celery"), ("leche en polvo", "milk")],
)
def test_name_in_any_of_our_languages_is_declared_on_a_label_of_any(name, key, language):
    found, warned = declared(name, language)
    assert len(found) == 1
    assert any(name in message for message in warned)
    assert found == declared("x", language, allergens=[key])[0]


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("butter", "milk"), ("double cream", "milk"), ("semolina", "wheat"), ("rusk", "wheat"), ("malt extract", "barley"),
        ("tahini", "sesame"), ("mayonnaise", "eggs"), ("groundnut oil", "peanuts"), ("refined sesame oil", "sesame"),
        ("refined peanut oil", "peanuts"), ("oysters", "molluscs"), ("Worcester sauce", "fish"), ("miso", "soybeans"),
    ],
)  # fmt: skip
def test_food_that_is_made_of_an_allergen_is_declared_and_warned_of(name, key):
    found, warned = declared(name)
    assert found == declared("x", allergens=[key])[0]
    assert any(name in message for message in warned)


@pytest.mark.parametrize(
    "name", ["cream of tartar", "cocoa butter", "noce moscata", "pimienta en grano", "butternut", "Schweineschmalz"]
)
def test_name_that_only_sounds_like_an_allergen_declares_nothing(name):
    assert declared(name) == ([], [])


@pytest.mark.parametrize("name", ["red wine", "cider vinegar", "Rosinen", "vinaigre"])
def test_food_that_often_brings_sulphites_is_called_unchecked_until_somebody_answers(name):
    assert any("often brings sulphites: unchecked" in message for message in declared(name)[1])
    assert declared(name, so2_mg_per_kg="0") == ([], [])
