"""What a drawn order is worth: against designs whose efficiency is known, and in words."""

from collections.abc import Sequence
from typing import Any, Literal

import pytest

from trapline.analyses.order_worth import OrderWorth, order_worth, worth_sentences
from trapline.model.kept_draw import KeptDraw
from trapline.science.layout import Scheme, draw_layout
from trapline.science.succession_choice import with_even_succession

NAMES = ("liver", "corn", "maize cake", "no bait", "herring", "skin", *"ghij")


def kept(
    rounds: Sequence[Sequence[int]], n_baits: int, *, rotated: bool = True,
    at_most: tuple[int | None, ...] = (), even: bool = True,
    kind: Literal["blocks", "whole line"] = "blocks", **values: Any,
) -> KeptDraw:  # fmt: skip
    """Return a draw of some rounds, as a trip keeps it."""
    n_rounds = len(rounds) + len(values.get("before", ()))
    scheme = Scheme(
        len(rounds[0]), n_baits, n_rounds, kind,
        rotated=rotated, at_most=at_most, even_succession=even,
    )  # fmt: skip
    places = tuple(str(n) for n in range(len(rounds[0])))
    rows = tuple(tuple(row) for row in rounds)
    return KeptDraw(scheme.as_dict(), 1, tuple("abcdefghij"[:n_baits]), places, rows, **values)


def drawn(scheme: Scheme, seed: int = 1) -> KeptDraw:
    """Return a draw as the program makes it."""
    scheme = with_even_succession(scheme)
    rows = draw_layout(scheme, seed).rounds.tolist()
    return kept(
        rows, scheme.n_baits,
        rotated=scheme.rotated, at_most=scheme.at_most, even=scheme.even_succession,
    )  # fmt: skip


def cyclic(n_rounds: int, n_places: int, n_baits: int) -> list[list[int]]:
    return [[(step + place) % n_baits for place in range(n_places)] for step in range(n_rounds)]


def worth_of(draw: KeptDraw) -> OrderWorth:
    worth = order_worth(draw)
    assert worth is not None
    return worth


def words(draw: KeptDraw) -> str:
    return "\n".join(worth_sentences(order_worth(draw), NAMES))


# --- numbers ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("n_rounds", "wanted", "shown"),
    [(4, 0.9796, "98 % of what its 28"), (3, 0.8650, "86 % of what its 21"),
     (2, 0.5600, "56 % of what its 14")],
)  # fmt: skip
def test_four_baits_on_seven_places(n_rounds: int, wanted: float, shown: str) -> None:
    # Cyclic rows; computed independently from the variances of the six differences.
    draw = kept(cyclic(n_rounds, 7, 4), 4)
    worth = worth_of(draw)
    assert worth.average == pytest.approx(wanted, abs=5e-5)
    assert (worth.n_places, worth.n_baits, worth.n_rounds) == (7, 4, n_rounds)
    assert worth.n_lifts == 7 * n_rounds
    assert worth.groups == ((0, 1, 2, 3),)
    assert worth.stayed == 0.0
    assert f"this order keeps {shown} lifts could tell." in words(draw)


@pytest.mark.parametrize("size", [2, 3, 4, 5])
def test_a_latin_square_loses_nothing(size: int) -> None:
    draw = drawn(Scheme(size, size, size))
    assert worth_of(draw).average == pytest.approx(1.0)
    assert f"nothing of what the {size**2} lifts could tell is lost" in words(draw)
    assert "this order keeps" not in words(draw)


def test_baits_left_where_round_1_puts_them_are_told_to_be_worth_nothing() -> None:
    assert (
        "With baits left where round 1 puts them 0 % would be kept: good places and good baits"
        " could not be told apart." in words(kept(cyclic(4, 7, 4), 4))
    )


def test_in_one_round_places_are_not_allowed_for_and_it_is_said() -> None:
    draw = drawn(Scheme(8, 4, 1))
    worth = worth_of(draw)
    assert worth.average == pytest.approx(1.0)
    assert (worth.by_place, worth.stayed) == (False, 0.0)
    assert worth.groups == ((0, 1, 2, 3),)
    assert worth.successions is None
    assert words(draw) == (
        "One round cannot tell good places and good baits apart; only the lot keeps it fair."
        " 4 rounds could: they would keep 100 % of what their lifts could tell."
    )


def test_a_round_without_any_of_the_baits_is_no_second_round() -> None:
    worth = worth_of(kept([[-1, -1, -1], [0, 1, 2]], 3, n_given=1))
    assert (worth.n_rounds, worth.n_lifts, worth.by_place) == (1, 3, False)


def test_baits_that_stay_are_told_to_be_worth_little() -> None:
    draw = kept([[0, 1, 0, 1]] * 3, 2, rotated=False)
    worth = worth_of(draw)
    assert (worth.average, worth.stayed, worth.whole_turn) == (0.0, 0.0, None)
    assert worth.groups == ((0,), (1,))
    assert words(draw) == (
        "Every bait stays on its places: good places and good baits cannot be told apart,"
        " however many rounds are fished. Let the baits change places."
    )


def test_a_lost_place_costs_something() -> None:
    rows = cyclic(4, 4, 4)
    rows[0][0] = -1
    draw = kept(rows, 4, n_given=1)
    worth = worth_of(draw)
    assert 0.9 < worth.average < 1.0
    assert worth.n_lifts == 15
    assert "The rounds fished before do not come out even: this order keeps 9" in words(draw)


def test_between_the_baits_without_a_limit_the_others_do_not_count() -> None:
    rows = [[0, 1, 2, 3, 0, 1, 2], [1, 2, 0, 1, 2, 3, 0], [2, 0, 1, 2, 3, 0, 1]]
    draw = kept(rows, 4, at_most=(None, None, None, 1))
    worth = worth_of(draw)
    without = [[bait if bait < 3 else -1 for bait in row] for row in rows]
    assert worth.rare == (3,)
    assert worth.rivals is not None
    assert worth.rivals == pytest.approx(worth_of(kept(without, 3)).average)
    assert worth.rivals != pytest.approx(worth.average)
    assert worth.whole_turn is None
    said = words(draw)
    assert said.startswith("With a limit on 'no bait' not all can come out even: this order keeps")
    assert f"({100 * worth.rivals:.0f} % between the other baits)" in said
    assert "('no bait' left out)" in said


def test_a_limit_that_does_not_bind_is_none() -> None:
    worth = worth_of(kept(cyclic(4, 4, 4), 4, at_most=(None, None, None, 4)))
    assert (worth.rare, worth.rivals) == ((), None)


def test_the_rounds_of_an_earlier_trip_are_counted_apart() -> None:
    rows = cyclic(4, 4, 4)
    draw = kept(rows[2:], 4, before=tuple(map(tuple, rows[:2])))
    worth = worth_of(draw)
    assert worth.average == pytest.approx(worth_of(kept(rows[2:], 4)).average)
    assert worth.average < 0.7
    assert worth.with_before == pytest.approx(1.0)
    assert worth.successions == worth_of(kept(rows, 4)).successions
    assert "earlier trip that it goes on from, the order keeps 100 %." in words(draw)
    assert worth_of(kept(rows, 4)).with_before is None


@pytest.mark.parametrize(("n_places", "n_baits"), [(7, 4), (8, 4), (5, 3), (9, 2)])
def test_what_more_rounds_would_keep_is_what_a_draw_of_them_keeps(
    n_places: int, n_baits: int
) -> None:
    found = worth_of(drawn(Scheme(n_places, n_baits, 1))).whole_turn
    assert found is not None
    assert found[0] == n_baits
    for seed in range(3):
        longer = worth_of(drawn(Scheme(n_places, n_baits, n_baits), seed))
        assert longer.average == pytest.approx(found[1], abs=0.03)
        assert longer.whole_turn is None


def test_more_rounds_are_named_only_where_they_help() -> None:
    found = worth_of(kept(cyclic(3, 7, 4), 4)).whole_turn
    assert found is not None
    assert found[0] == 4
    assert found[1] == pytest.approx(0.9796, abs=5e-5)
    assert " 4 rounds would keep 98 %. " in words(kept(cyclic(3, 7, 4), 4))
    assert worth_of(kept(cyclic(9, 7, 4), 4)).whole_turn is None  # 12 would gain next to nothing


# --- which baits cannot be compared -----------------------------------------------------


def test_baits_that_change_places_only_among_some_are_named() -> None:
    draw = kept([[0, 1, 2, 3], [1, 0, 3, 2]], 4)
    worth = worth_of(draw)
    assert (worth.average, worth.groups) == (0.0, ((0, 1), (2, 3)))
    assert words(draw).startswith(
        "Good places and good baits can be told apart only among 'liver' and 'corn', and among"
        " 'maize cake' and 'no bait': not between them. 4 rounds would do, and keep 100 %."
    )


def test_a_bait_that_cannot_be_compared_is_named() -> None:
    said = words(kept([[0, 1, 2], [1, 0, 2]], 3))
    assert said.startswith(
        "Good places and good baits can be told apart only among 'liver' and 'corn';"
        " not for 'maize cake'."
    )


def test_no_bait_that_can_be_compared_is_said() -> None:
    said = words(kept([[0, 1, 2], [0, 1, 2], [0, 1, 2]], 3, n_given=2))
    assert said.startswith(
        "No two baits change places with each other: none can be told from its places."
        " More rounds would help."
    )


# --- what follows what ------------------------------------------------------------------


def test_in_a_williams_square_every_bait_follows_every_other_once() -> None:
    # ABDC BCAD CDBA DACB, one word a place: Williams (1949).
    rows = [[0, 1, 2, 3], [1, 2, 3, 0], [3, 0, 1, 2], [2, 3, 0, 1]]
    found = worth_of(kept(rows, 4)).successions
    assert found is not None
    assert (found.least, found.most, found.n_itself) == (1, 1, 0)
    assert words(kept(rows, 4)).splitlines()[1] == (
        "From round to round each bait follows every other once; no bait follows itself."
        " What the last bait leaves on a place weighs on all about alike."
    )


def test_one_sided_successions_are_said() -> None:
    draw = kept(cyclic(4, 4, 4), 4)
    found = worth_of(draw).successions
    assert found is not None
    assert (found.least, found.most, found.n_itself) == (0, 3, 0)
    assert "each bait follows every other 0 to 3 times; no bait follows itself." in words(draw)
    assert "may favour some of them" in words(draw)


def test_a_bait_after_itself_is_counted_in_all() -> None:
    draw = kept([[0, 1, 0, 1], [0, 1, 1, 0], [1, 0, 1, 0]], 2)
    found = worth_of(draw).successions
    assert found is not None
    assert (found.least, found.most, found.n_itself) == (2, 2, 4)
    assert "each bait follows the other twice; a bait follows itself 4 times in all." in words(draw)


def test_pairs_that_occur_at_most_once_are_not_called_alike() -> None:
    said = words(kept([[0, 1, 2, 3, 4, 5], [1, 2, 3, 4, 5, 0]], 6))
    assert "follows every other at most once; no bait follows itself" in said
    assert "may favour some of them" in said


# --- why not even -----------------------------------------------------------------------


def test_that_the_test_goes_before_even_successions_is_said() -> None:
    # 24 of 576 Latin squares are alike up to names: p .042. Of 144 squares of Williams: .17.
    draw = drawn(Scheme(4, 4, 4))
    assert worth_of(draw).tested_before_even
    assert words(draw).splitlines()[-1] == (
        "Drawn from all balanced orders, not only from those in which baits follow each other"
        " most evenly: there are too few of those for the test."
    )


@pytest.mark.parametrize(
    "draw",
    [
        drawn(Scheme(12, 4, 4)),  # even as it is
        drawn(Scheme(8, 4, 1)),  # nothing follows anything
        kept(cyclic(4, 12, 4), 4, even=False),  # left out by choice: the test would allow it
        kept([[0, 1, 0, 1]] * 3, 2, rotated=False, even=False),
        # Too many to count: not because of the test.
        kept(cyclic(3, 20, 10), 10, even=False, kind="whole line"),
    ],
)
def test_nothing_is_said_where_the_test_is_not_the_reason(draw: KeptDraw) -> None:
    assert not worth_of(draw).tested_before_even
    assert "too few" not in words(draw)


# --- borders ----------------------------------------------------------------------------


def test_a_share_that_is_not_whole_is_never_called_so() -> None:
    draw = kept(cyclic(4, 11, 4), 4)
    assert 0.99 < worth_of(draw).average < 0.995
    assert "this order keeps more than 99 % of what its 44 lifts could tell." in words(draw)
    draw = kept(cyclic(4, 17, 4), 4)
    assert 0.995 < worth_of(draw).average < 0.9995
    assert "this order keeps more than 99 % of what its 68 lifts could tell." in words(draw)


@pytest.mark.parametrize(
    "draw",
    [
        KeptDraw({}, 1, (), (), ()),
        KeptDraw(Scheme(2, 2, 1).as_dict(), 1, ("a", "b"), ("1", "2"), ()),
        KeptDraw(Scheme(2, 1, 1).as_dict(), 1, ("a",), ("1", "2"), ((0, 0),)),
    ],
)
def test_what_is_no_draw_has_no_worth(draw: KeptDraw) -> None:
    assert order_worth(draw) is None
    assert worth_sentences(None, NAMES) == ()
