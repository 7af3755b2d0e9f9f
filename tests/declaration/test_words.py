"""The words of every language: complete, and the ones of the law's table as printed there."""

from __future__ import annotations

from typing import Any

import pytest
from declaration_samples import emphasised, neck, request

from labelsvc.declaration.compute import declaration
from labelsvc.declaration.words import LANGUAGES, allergen_key, naming_pattern, species_key, words_of
from labelsvc.errors import InputError


def keys(words: Any) -> dict[str, set[str]]:
    return {name: set(words[name]) for name in ("allergens", "species", "quantity", "statements", "parts")}


@pytest.mark.parametrize("language", LANGUAGES)
def test_language_then_it_has_every_word_english_has(language: str) -> None:
    assert keys(words_of(language)) == keys(words_of("en"))
    assert len(words_of(language)["dates"]["months"]) == 12
    assert {"best_before", "best_before_end", "use_by", "day", "month"} <= set(words_of(language)["dates"])
    assert {"preservative", "antioxidant", "acidity regulator"} <= set(words_of(language)["functions"])
    assert all(naming_pattern(language, key) for key in words_of(language)["allergens"])


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("fr", "Ingrédients: porc, sel, sucre, poivre noir, mustard (moutarde), conservateur (E 250)"),
        ("de", "Zutaten: Schweinefleisch, Salz, Zucker, schwarzer Pfeffer, mustard (Senf), Konservierungsstoff (E 250)"),
        ("it", "Ingredienti: carne di suino, sale, zucchero, pepe nero, mustard (senape), conservante (E 250)"),
        ("es", "Ingredientes: carne de cerdo, sal, azúcar, pimienta negra, mustard (mostaza), conservador (E 250)"),
    ],
)
def test_neck_when_in_another_language_then_its_words_and_annex_names(language: str, text: str) -> None:
    answer = declaration(request(neck(), language=language))
    assert answer["ingredient_list"] == text
    assert emphasised(answer) == answer["allergens"]
    note = next(one for one in answer["findings"] if one["rule"] == f"words.{language}")
    assert (note["severity"], note["known"]) == ("note", "unconfirmed")


def test_german_compound_word_then_the_whole_word_stands_out() -> None:
    uses = [{"name": "Senfsaat", "weight": "4 g", "allergens": ["mustard"]}]
    assert emphasised(declaration(request([*neck()[:1], *uses], language="de"))) == ["Senfsaat"]


def test_decimal_mark_when_german_then_a_comma() -> None:
    uses = [*neck()[:1], {"name": "Fenchel", "weight": "20 g", "quantify": True}]
    # 20 / 1020 = 1.96 %
    answer = declaration(request(uses, language="de", finished_weight="1020 g"))
    assert answer["quantity_statement"] == "98 % Schweinefleisch, 2 % Fenchel"
    # 15 / 1020 = 1.47 %
    uses[1] = {"name": "Fenchel", "weight": "15 g", "quantify": True}
    assert declaration(request(uses, language="de", finished_weight="1020 g"))["quantity_statement"].endswith("1,5 % Fenchel")


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("Spelt", "wheat"),
        ("khorasan", "wheat"),
        ("pistachio", "pistachios"),
        ("SO2", "sulphites"),
        ("soya", "soybeans"),
        ("lactose", "milk"),
    ],
)
def test_allergen_when_written_another_way_then_our_key(written: str, key: str) -> None:
    assert allergen_key(written) == key


def test_allergen_when_too_wide_then_asked_for_its_name() -> None:
    with pytest.raises(InputError, match="allergens: expected the cereal by its name: wheat, rye, barley or oats, got gluten"):
        allergen_key("gluten")


@pytest.mark.parametrize(
    ("written", "key"), [("pork", "pig"), ("Venison", "deer"), ("mutton", "sheep"), ("kangaroo", "kangaroo")]
)
def test_species_when_a_food_word_then_the_animal(written: str, key: str) -> None:
    assert species_key(written) == key
