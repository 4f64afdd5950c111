from dataclasses import replace

import numpy as np
import pytest

from trapline.analyses.learn_or_fill import learn_or_fill, money_a_trap
from trapline.analyses.so_far import SoFar
from trapline.model.bait import Bait

ONES = np.ones(3)
FOUND = SoFar(
    baits=("Fish", "Liver"),
    n_traps=4,
    n_rounds=2,
    rotates=True,
    log_means=np.zeros((3, 2)),
    # The median of the catches is 6 of fish and 2 of liver.
    catch_means=np.array([[5.0, 2.0], [6.0, 1.0], [9.0, 12.0]]),
    spread=ONES,
    round_sd=ONES,
    place_sd=ONES,
    factor_now=4.0,
    leading_ratio=2.0,
)


def test_learning_is_all_baits_in_equal_numbers_and_filling_the_best_in_all_traps():
    bucket = learn_or_fill(FOUND)
    assert (bucket.best, bucket.n_traps) == ("Fish", 8)
    assert bucket.learning == 4 * (6 + 2)
    assert bucket.filling == 8 * 6
    assert bucket.given_up[0] == 16


def test_what_is_given_up_is_below_nothing_where_another_bait_may_be_better():
    _, low, high = learn_or_fill(FOUND).given_up
    # 8 times fish less 4 times both, draw by draw: 12, 20, -12; ends between the outer ones.
    assert low == pytest.approx(-12 + 0.05 * 24)
    assert high == pytest.approx(20 - 0.05 * 8)


def test_the_best_is_found_wherever_it_stands():
    turned = replace(FOUND, catch_means=FOUND.catch_means[:, ::-1])
    assert learn_or_fill(turned).best == "Liver"


def test_an_animal_costs_the_bait_of_a_trap_over_its_catch():
    baits = [Bait(name="fish", cost="1.50"), Bait(name="Liver", cost="about 3")]
    fish, liver = learn_or_fill(FOUND, baits).costs
    assert (fish.bait, fish.catch_a_trap, fish.money_a_trap) == ("Fish", 6.0, 1.5)
    assert fish.money_an_animal == pytest.approx(0.25)
    assert (liver.money_a_trap, liver.money_an_animal) == (None, None)


def test_without_prices_no_money_is_known():
    assert [cost.money_an_animal for cost in learn_or_fill(FOUND).costs] == [None, None]


@pytest.mark.parametrize(
    ("cost", "amount", "money"),
    [
        ("0.80", "", 0.8),
        ("0,80 €", "200 g", 0.8),
        ("$ 2", "", 2.0),
        ("2.5 EUR", "", 2.5),
        ("6 / kg", "250 g", 1.5),
        ("6 €/kg", "0,5 kg", 3.0),
        ("4 per kg", "100 g", 0.4),
        ("0", "", 0.0),
        ("6 / kg", "", None),
        ("6 / kg", "one handful", None),
        ("6 / lb", "250 g", None),
        ("3 for 10", "", None),
        ("2-3", "", None),
        ("-2", "", None),
        ("1.234,50", "", None),
        ("cheap", "", None),
        ("", "", None),
    ],
)
def test_a_price_is_read_only_where_it_is_clear(cost, amount, money):
    found = money_a_trap(cost, amount)
    assert found == (None if money is None else pytest.approx(money))
