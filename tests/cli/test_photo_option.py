"""``--photo FILE`` keeps a photo beside the ledger and names it in the fact."""

from PIL import Image


def test_receive_when_given_a_photo_then_the_lot_shows_its_hash(hand, tmp_path):
    Image.new("RGB", (60, 40), "white").save(tmp_path / "note.png")
    hand("supplier", "Meadow Farm")
    code = hand.codes("receive", "animal", "half pig", "--supplier", "Meadow Farm", "--weight", "40 kg", "--photo", "note.png")[0]
    (photo,) = hand("lot", code, "--json").json["timeline"][0]["photos"]
    assert len(photo["photo"]) == 64
    assert photo["erased_on"] is None


def test_receive_when_the_file_is_missing_or_no_photo_then_it_says_so(hand, tmp_path):
    hand("supplier", "Meadow Farm")
    (tmp_path / "note.txt").write_text("a letter")
    line = ("receive", "animal", "half pig", "--supplier", "Meadow Farm", "--weight", "40 kg", "--photo")
    assert hand.ask(*line, "none.jpg").err.startswith("photo: expected a file that can be read, got none.jpg.")
    assert hand.ask(*line, "note.txt").err.startswith("photo: expected a photo as JPEG or PNG, or a PDF, got a file")
