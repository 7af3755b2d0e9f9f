"""The commands that touch data, one after the other as a day goes, on a file and on a server."""

import pytest
from by_hand import Hand


@pytest.fixture
def keyboard(cards_url):
    """Someone with a workshop's cards on each kind of database."""
    return Hand(cards_url)


def packed(keyboard):
    """Take in, cut, string, release and pack by commands; return the codes of the packs."""
    goods = "receive animal pig --supplier 'Meadow Farm' --species pig --weight '80 kg' --trichinella tested --at 2026-03-02"
    (animal,) = keyboard.typed(goods)
    (piece,) = keyboard.typed(f"cut {animal} --piece 'Cured neck=1000 g=ring 1' --at 2026-03-02")
    keyboard.typed("string 'ring 1' '1000 g' --tare '20 g' --place 'room 1' --yes --at 2026-03-02")
    keyboard.typed("weigh 'ring 1' '720 g' --at 2026-05-20")
    keyboard.typed(f"release {piece} --by Ada --at 2026-05-21")
    words = "--session s1 --market eu --language en --form prepacked --at 2026-05-21"
    return keyboard.typed(f"pack --from '{piece}=0 g' --pack '2 x 340 g' {words}")


def test_day_when_worked_by_commands_then_each_database_answers_alike(keyboard):
    _, one, two = packed(keyboard)
    sold = keyboard("sell", one, "--customer", "Corner Shop", "--at", "2026-05-22", "--once", "k1", "--json").json
    assert keyboard("sell", one, "--customer", "Corner Shop", "--at", "2026-05-22", "--once", "k1", "--json").json == sold
    assert keyboard.refused("sell", one, "--public", "--at", "2026-05-23").code == 1
    keyboard.typed(f"complaint 'tastes of soap' --code {one} --contact 'Fictional Fay' --at 2026-05-24")
    assert [sale["name"] for sale in keyboard("trace", one, "--json").json["sales"]] == ["Corner Shop"]
    found = keyboard("recall", "--supplier", "Meadow Farm", "--json").json
    assert [one["name"] for one in found["customers"]] == ["Corner Shop"]
    assert found["balance"]["difference"] == "0"
    assert keyboard("complaints", "--json").json["complaints"][0]["contact"] == "Fictional Fay"
    keyboard("hold", two, "--reason", "soap")
    keyboard("correct", str(sold["fact"]), "--take-back", "--reason", "it was not sold")
    assert keyboard("trace", one, "--json").json["sales"] == []
    assert {row["account"] for row in keyboard.rows("postings")} >= {one, two, "drying"}
    keyboard("verify", "--deep")
    keyboard("rebuild")
    keyboard("verify", "--deep")


def test_ledger_when_kept_erased_and_put_back_by_commands_then_whole_on_each_database(keyboard, empty_url, tmp_path):
    _, one, _ = packed(keyboard)
    keyboard("give", "Invented Ivo", one, "--at", "2026-05-22")
    head = keyboard("head").out.strip()
    kept = keyboard("personal", "--json").json["kept"]
    assert {"Meadow Farm", "Corner Shop", "Mrs Example", "Invented Ivo"} == {person["name"] for person in kept}
    said = keyboard("erase", "Invented Ivo", "--reason", "he asked for it", "--json").json
    assert [sale["name"] for sale in keyboard("trace", one, "--json").json["sales"]] == [said["words"]]
    keyboard("verify", "--deep", "--head", head)
    keyboard("person", "Ada", "--role", "responsible")
    file = tmp_path / "copy.backup"
    keyboard("backup", str(file))
    other = Hand(empty_url)
    other("restore", str(file))
    assert other("verify", "--deep", "--head", head, "--json").json["verified"]
    assert other("export", "sales").out == keyboard("export", "sales").out
    assert [person["name"] for person in other("person", "--json").json["people"]] == ["Ada"]
