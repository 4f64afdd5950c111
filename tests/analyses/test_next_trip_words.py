from dataclasses import replace

import numpy as np
import pytest

from trapline.analyses.learn_or_fill import AnimalCost, LearnOrFill
from trapline.analyses.next_trip import (
    RATIOS,
    FormulaSets,
    NextTrip,
    PowerCurve,
    WidthCurve,
)
from trapline.analyses.next_trip_words import bucket_words, settle_words
from trapline.analyses.so_far import SoFar

ONES = np.ones(4)
FOUND = SoFar(
    baits=("Fish", "Liver"), n_traps=4, n_rounds=2, rotates=True, log_means=np.ones((4, 2)),
    catch_means=np.ones((4, 2)), spread=ONES, round_sd=ONES, place_sd=ONES, factor_now=5.0,
    leading_ratio=2.0,
)  # fmt: skip
SIZES = {"rounds": (1, 2, 4, 8), "traps a bait": (4, 8, 16)}


def _trip(needed, *, found=FOUND, last=0.62, factors=(4.0, 2.5, 2.0, 1.5), formula=()) -> NextTrip:
    """Return findings by hand; `needed` is by (ratio, of, rotates), None where it is not."""
    curves = []
    for ratio in RATIOS:
        for of, sizes in SIZES.items():
            for rotates in (True, False):
                one = needed.get((ratio, of, rotates))
                end = last if one is None else 0.97
                shares = tuple(np.linspace(0.1, end, len(sizes)))
                curves.append(PowerCurve(ratio, rotates, of, sizes, shares, one))
    widths = tuple(WidthCurve(rotates, SIZES["rounds"], factors) for rotates in (True, False))
    return NextTrip(found, tuple(curves), widths, formula, (60, 200), False)


SETTLED = {
    (2.0, "rounds", True): 3, (3.0, "rounds", True): 1, (1.5, "rounds", True): 7,
    (2.0, "rounds", False): 6, (2.0, "traps a bait", True): 10,
}  # fmt: skip


def test_it_says_how_many_rounds_name_a_bait_in_eight_trials_of_ten():
    said = settle_words(_trip(SETTLED))
    assert said[0] == (
        "With 4 traps a bait and baits rotated, about 3 more rounds name a bait that catches "
        "twice as much in 8 trials of 10."
    )
    assert said[1] == (
        "For three times as much it would take 1 more round, for 1.5 times as much about 7 "
        "more rounds."
    )
    assert said[2] == (
        "Were every bait on its places from the first round on, about 6 more rounds name one that "
        "catches twice as much in 8 trials of 10."
    )
    assert said[3] == "One more round alone would need about 10 traps a bait for twice as much."


def test_it_says_so_where_even_the_most_that_was_tried_does_not_do():
    said = settle_words(_trip({}))
    assert said[0] == (
        "With 4 traps a bait and baits rotated, even 8 more rounds name a bait that catches "
        "twice as much in only about 60 trials of 100."
    )
    assert said[1] == (
        "For three times as much even 8 more rounds would do in only about 60 trials of 100, for "
        "1.5 times as much even 8 more rounds would do in only about 60 trials of 100."
    )
    assert "every bait on its places from the first round on, even 8 more rounds" in said[2]
    assert said[3] == (
        "One more round alone would not do for twice as much, not even with 16 traps a bait."
    )


def test_a_share_that_falls_short_is_never_rounded_up_to_what_is_wanted():
    assert "about 75 trials of 100" in settle_words(_trip({}, last=0.799))[0]
    assert "in next to no trial" in settle_words(_trip({}, last=0.04))[0]


def test_one_round_and_one_trap_are_told_in_the_singular():
    found = replace(FOUND, n_traps=1)
    said = settle_words(_trip({**SETTLED, (2.0, "rounds", True): 1}, found=found))[0]
    assert said.startswith("With 1 trap a bait and baits rotated, 1 more round names a bait")


def test_what_does_not_differ_is_not_said_twice():
    alike = {**SETTLED, (2.0, "rounds", False): 3, (2.0, "traps a bait", True): 4}
    said = " ".join(settle_words(_trip(alike)))
    assert "on its places from the first" not in said
    assert "One more round alone" not in said


def test_it_says_how_sure_the_ratio_would_be_and_is_now():
    said = settle_words(_trip(SETTLED))[4]
    assert said == (
        "After 2 more rounds, with baits rotated, the 95 % interval of the ratio of the leading "
        "bait to the next has an upper end about 2.5 times its lower; now it is 5.0 times."
    )
    wide = replace(FOUND, factor_now=400.0)
    assert "now it is more than 100 times" in settle_words(_trip(SETTLED, found=wide))[4]
    sure = replace(FOUND, factor_now=2.4)
    assert "hardly be known better than now" in settle_words(_trip(SETTLED, found=sure))[4]


def test_the_closed_formula_is_a_label_beside_it():
    formula = (FormulaSets(1.5, (60.0, 61.0, 62.0)), FormulaSets(2.0, (12.2, 13.4, 11.9)))
    said = settle_words(_trip(SETTLED, formula=formula))[5]
    assert said == (
        "The closed formula for a test of two baits alone, which knows no rounds and places, "
        "asks for 12 to 13 trap sets a bait in all for twice as much."
    )
    assert not any("formula" in one for one in settle_words(_trip(SETTLED)))


def test_it_says_what_it_rests_on_and_promises_nothing():
    said = settle_words(_trip(SETTLED))[-1]
    assert "60 to 200 simulated trials" in said
    assert said.endswith("a rough number, and no promise.")
    unseen = replace(FOUND, are_rounds_assumed=True, are_places_assumed=True, n_trips=3)
    said = settle_words(_trip(SETTLED, found=unseen))[-1]
    assert "How much rounds and places differ could not be seen yet and is assumed." in said
    assert "one trip" in said


BUCKET = LearnOrFill(
    best="Fish", n_traps=8, learning=32.2, filling=48.4, given_up=(16.2, -4.0, 30.0),
    costs=(AnimalCost("Fish", 6.0, 1.5, 0.25), AnimalCost("Liver", 2.0, 0.6, 0.3),
           AnimalCost("Corn", 2.0, None, None)),
)  # fmt: skip


def test_it_says_what_learning_costs_in_catch_and_an_animal_in_bait():
    assert bucket_words(BUCKET) == (
        "By the catches so far, one more round with all baits in equal numbers brings about 32 "
        "animals; with Fish in all 8 traps about 48.",
        "So learning costs about 16 animals (−4 to 30; below 0 if another bait is better after "
        "all).",
        "In bait, an animal costs about 0.25 with Fish and 0.30 with Liver, in the money you "
        "typed.",
    )


def test_where_learning_costs_nothing_and_no_price_is_known_it_says_so():
    bucket = replace(BUCKET, given_up=(0.2, -9.0, 9.0), costs=())
    said = bucket_words(bucket)
    assert said[1:] == ("So learning costs next to nothing.",)


def test_a_bait_whose_name_holds_a_comma_stands_in_quotes():
    costs = (AnimalCost("Roach, cut", 6.0, 1.5, 0.25),)
    said = bucket_words(replace(BUCKET, best="Roach, cut", costs=costs))
    assert "with “Roach, cut” in all 8 traps" in said[0]
    assert "0.25 with “Roach, cut”, in the money" in said[-1]


@pytest.mark.parametrize(("number", "words"), [(1.2, "1 animal;"), (12_345.0, "12,000 animals;")])
def test_numbers_of_animals_are_no_more_exact_than_they_are(number, words):
    assert words in bucket_words(replace(BUCKET, learning=number))[0]
