import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InputProblem
from trapline.exchange import files
from trapline.exchange.files import (
    clean_label,
    clean_note,
    decode_text,
    read_bytes,
    read_xml,
    shown,
)

HEAD = b'<?xml version="1.0" encoding="UTF-8"?>\n'


def problem_of(call, *arguments):
    with pytest.raises(InputProblem) as caught:
        call(*arguments)
    assert caught.value.error
    assert caught.value.where
    assert caught.value.what_to_do
    return caught.value


def test_a_missing_file_and_a_folder_are_refused_by_name(tmp_path):
    missing = problem_of(read_bytes, tmp_path / "nowhere.csv")
    assert "nowhere.csv" in missing.where
    assert "No such file" in missing.error
    assert "cannot be read" in problem_of(read_bytes, tmp_path).error


def test_a_file_is_read_up_to_its_cap_and_no_further(tmp_path):
    file = tmp_path / "a.csv"
    file.write_bytes(b"12345")
    assert read_bytes(file, max_bytes=5) == b"12345"
    assert "more than 4e-06 MB" in problem_of(read_bytes, file, 4).error


def test_a_project_is_never_opened_for_import(tmp_path):
    file = tmp_path / "trial.GPKG"
    file.write_bytes(b"id,lat,lon\n")
    assert "is a project" in problem_of(read_bytes, file).error


@pytest.mark.parametrize("data", [b"", b" \r\n\t", "\ufeff \n".encode("utf-16")])
def test_an_empty_file_is_called_empty_with_its_size(data):
    assert f"empty ({len(data)} bytes" in problem_of(decode_text, data, "a.csv").error


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"PK\x03\x04rest", "zip"),
        (b"\xd0\xcf\x11\xe0rest", "workbook"),
        (b"SQLite format 3\x00rest", "database"),
        (b"\x1f\x8brest", "gzip"),
        (b"%PDF-1.7", "PDF"),
        (b"\xff\xd8\xff\xe0", "picture"),
    ],
)
def test_other_kinds_of_files_are_named_by_readers_of_text_and_of_xml(data, word):
    assert word in problem_of(decode_text, data, "a.csv").error
    assert word in problem_of(read_xml, data, "a.gpx").error


@pytest.mark.parametrize(
    ("codec", "label"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8"),
        ("utf-16", "UTF-16"),
        ("utf-32", "UTF-32"),
        ("cp1252", "Windows-1252"),
    ],
)
def test_text_is_decoded_and_its_byte_order_mark_dropped(codec, label):
    assert decode_text("naïve;€".encode(codec), "a.csv") == ("naïve;€", label)


def test_big_endian_utf16_is_read_by_its_mark():
    assert decode_text(b"\xfe\xff" + "é".encode("utf-16-be"), "a.csv") == ("é", "UTF-16")


def test_a_stray_byte_in_utf8_text_is_named_and_not_guessed():
    problem = problem_of(decode_text, "é\nb".encode() + b"\xe9", "a.csv")
    assert problem.error == "Byte 4 (0xE9) is not UTF-8."
    assert problem.where == "a.csv, line 2, byte 4"


def test_bytes_in_no_known_encoding_are_named():
    problem = problem_of(decode_text, b"abc\x81", "a.csv")
    assert problem.error == "Byte 3 (0x81) is not UTF-8 or Windows-1252."


def test_utf16_cut_in_a_character_is_refused():
    assert "UTF-16" in problem_of(decode_text, "abc".encode("utf-16")[:-1], "a.csv").error


def test_a_zero_byte_means_that_the_file_is_not_text():
    problem = problem_of(decode_text, b"id\x00,lat", "a.csv")
    assert "Byte 2 is 0x00" in problem.error


def test_control_characters_and_overrides_go_and_everything_else_stays():
    assert clean_label("  a\x00b\x07\u202ec\x85\ud800 ") == "abc"
    assert clean_label("Träp 2 é 👩‍🚀 \u200fشرق") == "Träp 2 é 👩‍🚀 \u200fشرق"
    assert clean_label("one\ntwo\tthree") == "one two three"
    assert clean_note("one\r\ntwo\rthree\x1b") == "one\ntwo\nthree"


def test_a_value_is_shown_on_one_line_and_cut():
    assert shown("a\nb\u202e") == "a b "
    assert shown("x" * 100) == "x" * 60 + "…"
    assert shown("x" * 60) == "x" * 60


def test_elements_keep_their_line_text_and_namespace():
    root = read_xml(b'<a xmlns="u">\n <b k="1">x<![CDATA[<y>]]></b>\n<c:b xmlns:c="v"/></a>', "a")
    assert [(b.line, b.text, b.attributes) for b in root.all("b")] == [(2, "x<y>", {"k": "1"})]
    assert [(child.tag, child.space) for child in root.children] == [("b", "u"), ("b", "v")]
    assert root.first_text("b") == "x<y>"
    assert root.first_text("nothing") == ""


BILLION_LAUGHS = (
    b'<?xml version="1.0"?>\n<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;">'
    b'<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;">]>\n<gpx><name>&c;</name></gpx>'
)
READS_A_FILE = (
    b'<?xml version="1.0"?>\n<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]>\n'
    b"<gpx><name>&x;</name></gpx>"
)
REMOTE_DTD = b'<?xml version="1.0"?>\n<!DOCTYPE gpx SYSTEM "http://example.invalid/a.dtd">\n<gpx/>'


@pytest.mark.parametrize("data", [BILLION_LAUGHS, READS_A_FILE, REMOTE_DTD])
def test_a_document_type_is_refused_on_its_line(data):
    problem = problem_of(read_xml, data, "a.gpx")
    assert "<!DOCTYPE" in problem.error
    assert problem.where == "a.gpx, line 2"


def test_an_undefined_entity_is_refused():
    assert "&foo;" in problem_of(read_xml, b"<gpx>&foo;</gpx>", "a.gpx").error


def test_200000_levels_are_refused_and_64_are_read():
    deep = problem_of(read_xml, b"<a>" * 200_000 + b"</a>" * 200_000, "a.gpx")
    assert "64 levels" in deep.error
    assert read_xml(b"<a>" * 64 + b"</a>" * 64, "a.gpx").tag == "a"
    assert "64 levels" in problem_of(read_xml, b"<a>" * 65 + b"</a>" * 65, "a.gpx").error


def test_too_many_elements_are_refused(monkeypatch):
    monkeypatch.setattr(files, "MAX_XML_NODES", 10)
    assert len(read_xml(b"<a>" + b"<b/>" * 9 + b"</a>", "a.gpx").children) == 9
    assert "10 elements" in problem_of(read_xml, b"<a>" + b"<b/>" * 10 + b"</a>", "a").error


def test_too_many_bytes_are_refused_before_parsing():
    data = b"<a>" + b" " * files.MAX_BYTES + b"</a>"
    assert "more than 50 MB" in problem_of(read_xml, data, "a.gpx").error


@pytest.mark.parametrize("cut", [len(HEAD) + 4, len(HEAD) + 9, len(HEAD) + 30])
def test_a_truncated_document_says_where_it_stops(cut):
    data = (HEAD + b'<gpx><wpt lat="1" lon="2"><name>caf</name></wpt></gpx>')[:cut]
    problem = problem_of(read_xml, data, "a.gpx")
    assert problem.error == f"The file stops in the middle, at byte {cut}."
    assert "line 2" in problem.where


def test_a_wrongly_coded_document_names_the_byte_and_its_value():
    problem = problem_of(read_xml, HEAD + b"<gpx>Caf\xe9 x</gpx>", "a.gpx")
    assert f"Byte {len(HEAD) + 8} (0xE9)" in problem.error
    assert problem.where == f"a.gpx, line 2, byte {len(HEAD) + 8}"


@pytest.mark.parametrize("codec", ["blah", "Shift_JIS", "utf-7", "hex"])
def test_an_encoding_that_cannot_be_read_is_named(codec):
    data = f'<?xml version="1.0" encoding="{codec}"?><gpx/>'.encode()
    problem = problem_of(read_xml, data, "a.gpx")
    assert "encoding" in problem.error
    assert "UTF-8" in problem.what_to_do


def test_a_declared_encoding_that_the_bytes_belie_is_refused():
    data = b'<?xml version="1.0" encoding="utf-16"?><gpx/>'
    assert "encoding" in problem_of(read_xml, data, "a.gpx").error


@pytest.mark.parametrize(
    "data", [b"hello", b'{"type": 1}', b"id,lat,lon\n", b"<a><b></a>", b"<a/>x"]
)
def test_what_is_not_xml_is_quoted(data):
    problem = problem_of(read_xml, data, "a.gpx")
    assert "not sound XML" in problem.error
    assert "byte" in problem.where


def is_read_or_explained(reader, data):
    try:
        reader(data, "a")
    except InputProblem as problem:
        return bool(problem.error and problem.where and problem.what_to_do)
    return True


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.binary(max_size=80), st.integers(0, 60))
def test_no_bytes_do_anything_but_read_or_explain(noise, at):
    sound = HEAD + b'<gpx><wpt lat="1" lon="2"><name>a</name></wpt></gpx>'
    for data in (noise, sound[:at] + noise + sound[at:]):
        assert is_read_or_explained(read_xml, data)
        assert is_read_or_explained(decode_text, data)
