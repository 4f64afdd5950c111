from trapline.ui.plain_text import breakable, plain_tip


def test_very_long_words_can_be_broken_and_others_are_left_alone() -> None:
    assert breakable("a gap of 8.60 m") == "a gap of 8.60 m"
    broken = breakable("x" * 100)
    assert broken.replace("\u200b", "") == "x" * 100
    assert max(map(len, broken.split("\u200b"))) == 24


def test_a_tip_shows_what_looks_like_html() -> None:
    assert plain_tip("<b>P1</b> & 2") == "<p>&lt;b&gt;P1&lt;/b&gt; &amp; 2</p>"
    assert plain_tip("") == ""
