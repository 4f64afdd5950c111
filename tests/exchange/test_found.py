from trapline.exchange.found import FoundPlace, FoundPlaces, Refused, Track, name_apart

PLACE = FoundPlace("T1", 4.5, 52.1, row=1, origin="line 2")
REFUSED = Refused(2, "line 3", "91", "Latitude 91", "Correct it.")


def sentence(places=0, refused=0, tracks=0, loose=0):
    bad = (REFUSED,) * refused + (Refused(0, "x", "", "", ""),) * loose
    track = Track("Bank", (1.0, 2.0), (3.0, 4.0))
    found = FoundPlaces("a", "table", (PLACE,) * places, bad, tracks=(track,) * tracks)
    return found.sentence()


def test_the_sentence_counts_rows_and_tracks():
    assert sentence(12, 2) == "12 of 14 rows understood"
    assert sentence(0, 1) == "0 of 1 row understood"
    assert sentence(3, 0, 1) == "3 of 3 rows understood, 1 track"
    assert sentence(0, 0, 2) == "2 tracks"
    assert sentence(0, 0) == "0 of 0 rows understood"


def test_the_sentence_does_not_count_points_of_tracks_as_rows():
    assert sentence(3, 1, 1, loose=5) == "3 of 4 rows understood, 1 track"


def test_names_are_apart_and_every_place_is_kept_or_refused():
    rows = [FoundPlace(label, 1.0, 2.0, row=n) for n, label in enumerate(["a", "", "a", "WP 2"], 1)]
    kept, refused = name_apart(rows)
    assert [place.label for place in kept] == ["a", "WP 2a", "WP 2"]
    assert [row.row for row in refused] == [3]


def test_names_that_differ_in_case_are_two():
    kept, refused = name_apart([FoundPlace("a", 1.0, 2.0), FoundPlace("A", 1.0, 2.0)])
    assert len(kept) == 2
    assert not refused
