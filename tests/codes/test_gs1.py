"""GS1 data beyond the vectors: each rule of content, association, separator, link place and request."""

import pytest
from stdnum import numdb

from labelsvc.codes.gs1 import compute_gs1, parse_human_readable, parse_scan, write_scan
from labelsvc.codes.gs1_content import year_of
from labelsvc.codes.gs1_link import parse_link
from labelsvc.codes.gs1_syntax import Element, identifier, table
from labelsvc.errors import CodeError, InputError

GTIN = "(01)09521234543213"
PREDEFINED = {f"{n:02d}" for n in (*range(5), *range(11, 21), *range(31, 37), 41)}  # General Specifications, figure 7-6


@pytest.mark.parametrize("ai", sorted(table().identifiers))
def test_identifier_when_compared_with_an_independent_table_then_length_and_separator_agree(ai):
    [(known, facts)] = numdb.get("gs1_ai").info(ai)
    row = identifier(ai, "ai", ai)
    assert known == ai
    assert row.predefined is ("fnc1" not in facts) is (ai[:2] in PREDEFINED)
    assert (row.shortest, row.longest) == _lengths(facts["format"])


def _lengths(form):
    """Read N13[+X..17] as 13 to 30 characters; "N3+N..12" of the country lists means one to five countries, 3 to 15.

    It writes the hyphen of a temperature [-], and one or two digits [N1..N2].
    """
    least = most = 0
    for part in form.replace("[+", "+[").replace("[-]", "[X1]").replace("N1..N2", "N..2").split("+"):
        size = int(part.strip("[]NXYZ."))
        most += size
        if not part.startswith("["):
            least += 0 if form == "N3+N..12" and ".." in part else 1 if ".." in part else size
    return least, most


@pytest.mark.parametrize("ai", sorted(table().identifiers))
def test_identifier_when_another_begins_with_it_then_scan_data_would_be_ambiguous(ai):
    assert [other for other in table().identifiers if other.startswith(ai)] == [ai]


def test_qualifiers_of_every_key_are_identifiers_of_the_table():
    named = {ai for row in table().identifiers.values() for order in row.qualifiers for ai in order}
    assert named == {"10", "21", "22", "235", "254", "7040", "8011", "8019", "8020"}


@pytest.mark.parametrize(
    ("two_digits", "this_year", "expected"),
    # 77 - 26 = 51: past century; 76 - 26 = 50: this one; 25 - 75 = -50: next; 26 - 75 = -49: this one
    [(77, 2026, 1977), (76, 2026, 2076), (26, 2026, 2026), (25, 2075, 2125), (26, 2075, 2026)],
)
def test_year_when_two_digits_are_read_then_the_century_is_that_of_the_standard(two_digits, this_year, expected):
    assert year_of(two_digits, this_year) == expected


@pytest.mark.parametrize(
    "text",
    [
        f"{GTIN}(15)280229",  # 2028 is a leap year
        f"{GTIN}(15)000229",  # so is 2000
        f"{GTIN}(7003)2703012359",
        f"{GTIN}(8008)260302235959",
        f"{GTIN}(10)ABCDEFGHIJ0123456789",
        f"{GTIN}(7030)999X",
        f"{GTIN}(21)A(8030)aB-_",
        f"{GTIN}(21)A(8030)aB-_9=",  # six characters with the padding sign: a multiple of three
        f"{GTIN}(8001)00010000100100",  # width, length and core above zero, winding 0, splices 0
        "(8013)1987654Ad4X4bL5ttr2310c2K",  # General Specifications, example of a model number
        "(8006)095212345432130102",
        "(8003)09521234543206A1",  # 0, then a number of 13 digits with its check digit
        "(8010)9521/77(8011)1",
        "(8010)9521/77(8011)0",
        "(8018)395212340000000175(8019)12",
        "(414)9521234543206(7040)1A-_",
        "(415)9521234543206(8020)INV-17",
        "(255)9521234543206123456789012",
        "(99)no key at all".replace(" ", "_"),
        "(401)9521ABC",
        "(00)395212340000000175(8026)095212345432130102(37)12",
        f"{GTIN}(426)276(10)H14",
        f"{GTIN}(425)276250",
        "(01)99521234543216(242)12",
        # beyond meat: what else stands on a supplier's carton (values of the reference tests where they have one)
        f"{GTIN}(8005)000199",
        "(01)99521234543216(3103)001275(3950)000499",
        f"{GTIN}(7008)COD(7009)OTB(7010)01(7011)260301",
        f"{GTIN}(10)A(7004)12(243)P(710)1(717)2(7230)EM1234(8009)A(8012)V1",
        "(00)395212340000000175(403)R1(7041)APE(4309)18000000003600000000(4321)0",
        "(00)395212340000000175(4300)A%2FB(4302)A(4303)B(4307)SX(4324)2603000900(4331)001000-",
        "(00)395212340000000175(4331)001000",
        "(8018)395212340000000175(7241)10(7251)200002292359(7252)9(7259)A(7258)2/2",
        "(415)9521234543206(8020)1(8007)FR7630006000011234567890189",
        "(415)9521234543206(8020)1(3912)9781299",
        "(255)9521234543206(3900)1",
        "(255)9521234543206(3941)0500(8110)012345612345611110123",
        "(8110)012345612345611110123131110120123456",
        "(8110)0123456123456111101233260331426030151123456761123456790121",
        "(8112)061234567890121234569123456789012345",
        f"{GTIN}(21)A(8040)123456789012345(8043)1234567890123456781",
    ],
)
def test_elements_when_the_standard_allows_them_then_they_are_read_and_written_back(text):
    answer = compute_gs1({"human_readable": text})
    assert answer["human_readable"] == text
    assert compute_gs1({"scan": answer["scan"]})["human_readable"] == text


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (f"{GTIN}(15)270229", "date"),
        (f"{GTIN}(15)271300", "date"),
        (f"{GTIN}(15)270001", "date"),
        (f"{GTIN}(7006)270300", "date"),
        (f"{GTIN}(7007)260301260332", "date"),
        (f"{GTIN}(7003)2703012400", "time"),
        (f"{GTIN}(7003)2703012360", "time"),
        (f"{GTIN}(8008)2603022360", "minute"),
        (f"{GTIN}(8008)260302235960", "second"),
        (f"{GTIN}(423)276000", "country"),
        ("(01)99521234543216(3103)001275(3932)0002499", "currency"),
        (f"{GTIN}(8030)aB", "required"),
        (f"{GTIN}(21)A(8030)aB-_=", "padding"),
        (f"{GTIN}(21)A(8030)a=B-_9", "padding"),
        (f"{GTIN}(21)A(8030)aB+_", "set 64"),
        (f"{GTIN}(8001)00000000100100", "above zero"),
        (f"{GTIN}(8001)00010000100120", "winding"),
        ("(8013)1987654Ad4X4bL5ttr2310c2J", "check characters"),
        ("(8013)2K", "check characters"),
        ("(8006)095212345432130003", "piece"),
        ("(8006)095212345432130302", "piece"),
        ("(8003)19521234543206", "zero"),
        ("(8010)9521/77(8011)01", "leading zero"),
        ("(8010)9521/abc", "set 39"),
        ("(8004)HOOK12", "company prefix"),
        ("(8004)952", "company prefix"),
        ("(401)95A1", "company prefix"),
        ("(8017)395212340000000175(8018)395212340000000175", "not together"),
        ("(414)9521234543206(7040)1A-/", "importer"),
        ("(415)9521234543206", "required"),
        ("(37)12(02)09521234543213", "required"),
        (f"(255)9521234543206{GTIN}", "not together"),
        (f"{GTIN}(21)A(235)B", "not together"),
        (f"{GTIN}(3922)2499", "required"),
        (f"{GTIN}(427)ENG", "required"),
        (f"{GTIN}(7022)A", "required"),
        (f"{GTIN}(12)270301", "required"),
        ("(01)99521234543216(10)H14", "required measure"),
        (f"{GTIN}(10)A(B", "in brackets"),
        ("01095212", "in brackets"),
        ("", "empty"),
        (f"{GTIN}(10)A\x1dB", "set 82"),
        (f"{GTIN}(10)１２", "set 82"),
        ("(01)０9521234543213", "digits only"),
        (f"{GTIN}(8005)00199", "exactly 6"),
        ("(01)99521234543216(3103)001275(3950)000499(8005)000199", "not together"),
        (f"{GTIN}(3950)000499", "required"),
        (f"{GTIN}(7004)12", "required"),
        ("(00)395212340000000175(4309)18000000013600000000", "latitude"),
        ("(00)395212340000000175(4309)18000000003600000001", "longitude"),
        ("(00)395212340000000175(4300)A%2", "hexadecimal"),
        ("(00)395212340000000175(4303)B", "required"),
        ("(00)395212340000000175(4307)XX", "two capitals"),
        ("(00)395212340000000175(4321)2", "0 for no"),
        ("(00)395212340000000175(4331)001000+", "hyphen"),
        ("(00)395212340000000175(4330)001000(4331)001000", "not together"),
        ("(00)395212340000000175(7041)1Z", "package type"),
        ("(8018)395212340000000175(7241)11", "media type"),
        ("(8018)395212340000000175(7250)19000229", "YYYYMMDD"),
        ("(8018)395212340000000175(7252)3", "ISO 5218"),
        ("(8018)395212340000000175(7259)A(7258)2/1", "place"),
        ("(415)9521234543206(8020)1(8007)FR7630006000011234567890180", "check digits"),
        ("(415)9521234543206(8020)1(8007)XX361234567890", "country code"),
        (f"{GTIN}(8014)1987654324", "check characters|no digit"),
        ("(255)9521234543206(3940)0500(8111)0500", "not together"),
        ("(8110)71234567890123", "coupon"),
        ("(8110)01234561234561111012332602304", "coupon"),
        ("(8110)01234561234561111012332603014260302", "coupon"),  # ends before it begins
        ("(8110)0123456123456111101237", "coupon"),
        ("(8112)0012345612345601234567", "coupon"),
        (f"{GTIN}(21)A(8041)123456789012345", "required"),
    ],
)
def test_elements_when_the_standard_refuses_them_then_the_error_says_why(text, reason):
    with pytest.raises(CodeError, match=reason) as caught:
        parse_human_readable(text)
    assert caught.value.field == "human_readable"
    assert caught.value.message.isprintable()


def test_opening_bracket_in_a_value_when_escaped_then_it_is_data():
    answer = compute_gs1({"human_readable": GTIN + r"(10)A\(01)B"})
    assert answer["elements"][1] == {"ai": "10", "value": "A(01)B"}
    assert answer["human_readable"] == GTIN + r"(10)A\(01)B"
    assert answer["scan"] == "]C1010952123454321310A(01)B"
    assert answer["link"] == "https://example.com/01/09521234543213/10/A%2801%29B"


@pytest.mark.parametrize("symbol", ["]C1", "]d2", "]Q3", "]e0"])
def test_separator_when_it_follows_data_of_predefined_length_then_it_is_tolerated(symbol):
    elements = parse_scan(f"{symbol}0109521234543213\x1d15270303\x1d10H14\x1d")
    assert [element.ai for element in elements] == ["01", "15", "10"]
    assert write_scan(elements) == "]C1010952123454321315270303" + "10H14"


@pytest.mark.parametrize(
    ("scan", "reason"),
    [
        ("]C10109521234543213\x1d\x1d10H14", "known GS1"),
        ("]C1010952123454321310H14\x1d\x1d21A", "known GS1"),
        ("]C1010952123454321310\x1d21A", "empty"),
        ("]C10109521234543213152703\x1d10H14", "exactly 6 digits"),
        ("]C10109521234543213422276" + "10H14", "digits"),
        ("]Q109521234543213", "scheme"),
        ("]E09521234543213", "symbology identifier"),
        ("", "symbology identifier"),
    ],
)
def test_scan_when_wrong_then_the_error_says_why_in_printable_text(scan, reason):
    with pytest.raises(CodeError, match=reason) as caught:
        parse_scan(scan)
    assert caught.value.field == "scan"
    assert caught.value.message.isprintable()


@pytest.mark.parametrize(
    "scan", ["]Q1https://example.com/trace/01/09521234543213/10/H14", "]d1https://example.com/trace/01/09521234543213/10/H14"]
)
def test_scan_when_a_plain_symbol_holds_a_link_then_its_address_is_kept(scan):
    answer = compute_gs1({"scan": scan})
    assert answer["link"] == "https://example.com/trace/01/09521234543213/10/H14"
    assert answer["scan"] == "]C1010952123454321310H14"


@pytest.mark.parametrize(
    ("text", "path"),
    [
        (f"{GTIN}(21)7(10)H14(22)2A", "/01/09521234543213/22/2A/10/H14/21/7"),
        (f"{GTIN}(10)H14(235)T", "/01/09521234543213/235/T?10=H14"),  # 235 may stand nowhere else, 10 may
        ("(414)9521234543206(254)R2", "/414/9521234543206/254/R2"),
        ("(8020)INV-17(415)9521234543206", "/415/9521234543206/8020/INV-17"),
    ],
)
def test_link_when_built_then_qualifiers_follow_the_order_of_their_key(text, path):
    assert compute_gs1({"human_readable": text})["link"] == f"https://example.com{path}"


def test_link_when_an_element_may_not_stand_in_one_then_it_is_null_with_a_finding():
    answer = compute_gs1({"human_readable": f"{GTIN}(8200)http://example.com"})
    assert answer["link"] is None
    [finding] = answer["findings"]
    assert (finding["rule"], finding["severity"], finding["exceeded"]) == ("gs1.link.not_in_a_link", "note", False)


def test_link_when_no_key_stands_then_it_is_null_without_finding():
    answer = compute_gs1({"human_readable": "(90)NOTE"})
    assert (answer["link"], answer["findings"]) == (None, [])


def test_link_when_batch_follows_the_third_party_serial_then_it_stands_in_the_query():
    link = "https://example.com/01/09521234543213/235/T?10=H14"
    assert compute_gs1({"link": link})["link"] == link


def test_link_when_a_value_looks_like_a_key_then_the_walk_from_the_end_finds_the_right_one():
    assert [str(e) for e in parse_link("https://example.com/01/09521234543213/10/01/21/5").elements] == [
        "(01)09521234543213",
        "(10)01",
        "(21)5",
    ]


def test_link_when_the_scheme_is_upper_case_then_it_is_read_and_kept():
    assert parse_link("HTTPS://EXAMPLE.COM/01/09521234543213/10/H14").base == "HTTPS://EXAMPLE.COM"


@pytest.mark.parametrize(
    ("link", "reason"),
    [
        ("https://example.com", "a path"),
        ("https:///01/09521234543213", "domain"),
        ("https://example.com:65536/01/09521234543213", "domain"),
        ("Https://example.com/01/09521234543213", "scheme"),
        ("https://example.com/01/09521234543213/10/A%2", "hexadecimal"),
        ("https://example.com/01/09521234543213/10/A%C3%B3", "set 82"),
        ("https://example.com/gtin/09521234543213", "GS1 key"),
        ("https://example.com/01/09521234543213/10/A/10/B", "only once"),
        ("https://example.com/01/09521234543213?15=", "empty"),
        ("https://example.com/01/09521234543213/22/A?10=H14", "in the path"),
        ("https://example.com/00/395212340000000175?21=A", "no data attribute"),
        ("https://example.com/8004/9521A?7040=1ABC", "in the path"),
        ("https://example.com/01/09521234543213/235/A/21/B", "in their order"),
    ],
)
def test_link_when_wrong_then_the_error_says_why(link, reason):
    with pytest.raises(CodeError, match=reason):
        parse_link(link)


def test_base_address_when_given_then_it_stands_before_the_key():
    answer = compute_gs1({"human_readable": GTIN, "base": "https://labels.example.com/b/"})
    assert answer["link"] == "https://labels.example.com/b/01/09521234543213"


def test_characters_when_exactly_48_then_nothing_is_found_and_one_more_is_over():
    # 16 of AI 01 + 22 of AI 10 + separator + 2 digits of AI 21 + 7 = 48
    exact = f"{GTIN}(10)ABCDEFGHIJ0123456789(21)1234567"
    assert compute_gs1({"human_readable": exact})["findings"] == []
    [finding] = compute_gs1({"human_readable": exact + "8"})["findings"]
    assert (finding["limit"], finding["found"], finding["unit"], finding["exceeded"]) == ("48", "49", "characters", True)


@pytest.mark.parametrize(
    ("request_", "field"),
    [
        ({}, "gs1"),
        ({"scan": "]C1", "link": "x"}, "gs1"),
        ({"human_readable": GTIN, "colour": "red"}, "colour"),
        ({"human_readable": 1}, "human_readable"),
        ({"human_readable": GTIN, "base": "example.com"}, "base"),
        ({"human_readable": GTIN, "base": None}, "base"),
    ],
)
def test_request_when_it_cannot_be_read_then_the_error_names_the_field(request_, field):
    with pytest.raises(InputError) as caught:
        compute_gs1(request_)
    assert caught.value.field == field


def test_element_when_shown_then_its_identifier_stands_in_brackets():
    assert str(Element("10", "H14")) == "(10)H14"


@pytest.mark.parametrize(
    ("last", "needed"),
    [  # a symbol holds 48 characters: AI 01 and 10 fill the first (16 + 22, with the next one over), 21 to 240 the others
        ("", 1),
        ("(21)" + "1" * 20 + "(240)" + "2" * 22, 2),  # 22 + separator + 25 = 48 in the second
        ("(21)" + "1" * 20 + "(240)" + "2" * 23, 3),  # one more
    ],
)
def test_symbols_when_more_than_two_are_needed_then_a_2d_symbol_is_asked_for(last, needed):
    answer = compute_gs1({"human_readable": f"{GTIN}(10){'H' * 20}{last}"})
    found = [one for one in answer["findings"] if one["rule"] == "gs1.gs1_128.symbols"]
    assert [one["found"] for one in found] == ([str(needed)] if needed > 2 else [])
    assert all("2D symbol" in one["message"] and one["severity"] == "warn" for one in found)
