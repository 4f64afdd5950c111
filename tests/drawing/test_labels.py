import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.drawing.labels import declutter


def _overlaps(boxes: np.ndarray) -> int:
    """Count overlapping pairs by comparing every two, without a grid."""
    left, top, right, bottom = boxes.T
    meet = (
        (left[:, None] < right[None, :])
        & (left[None, :] < right[:, None])
        & (top[:, None] < bottom[None, :])
        & (top[None, :] < bottom[:, None])
    )
    return int(np.triu(meet, k=1).sum())


def _candidates(rng: np.random.Generator, n: int) -> np.ndarray:
    x, y = rng.uniform(-20, 420, n), rng.uniform(-20, 320, n)
    wide, high = rng.uniform(5, 70, n), rng.uniform(6, 18, n)
    corners = [(x + 6, y - high / 2), (x - 6 - wide, y - high / 2), (x - wide / 2, y + 6)]
    return np.stack([np.column_stack([a, b, a + wide, b + high]) for a, b in corners])


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 250), st.floats(2.0, 12.0))
def test_no_label_lies_on_another_or_on_what_is_taken_or_outside(seed, n, cell):
    rng = np.random.default_rng(seed)
    boxes = _candidates(rng, n)
    taken = _candidates(rng, 10)[0]
    chosen = declutter(boxes, taken, 400.0, 300.0, cell)
    given_out = boxes[chosen[chosen >= 0], np.flatnonzero(chosen >= 0)]
    assert _overlaps(given_out) == 0
    for box in given_out:
        assert _overlaps(np.vstack([box[None], taken])) == _overlaps(taken)
    assert (given_out[:, :2] >= 0).all()
    assert (given_out[:, 2] <= 400).all()
    assert (given_out[:, 3] <= 300).all()


def test_labels_with_room_get_their_best_place():
    boxes = np.array([[[10, 10, 40, 20], [10, 100, 40, 110], [200, 10, 240, 20]]], dtype=float)
    assert declutter(boxes, np.empty((0, 4)), 400, 300).tolist() == [0, 0, 0]


def test_the_first_of_two_rivals_wins_and_the_other_takes_its_second_place():
    best = [[10, 10, 50, 22], [20, 12, 60, 24]]
    second = [[10, 60, 50, 72], [20, 90, 60, 102]]
    boxes = np.array([best, second], dtype=float)
    assert declutter(boxes, np.empty((0, 4)), 400, 300).tolist() == [0, 1]


def test_a_label_without_room_gets_none():
    boxes = np.array([[[10, 10, 50, 22]]], dtype=float)
    taken = np.array([[0, 0, 400, 300]], dtype=float)
    assert declutter(boxes, taken, 400, 300).tolist() == [-1]


def test_a_row_that_lost_to_a_loser_is_tried_again():
    # The second loses to the first, and had kept the third from its place.
    boxes = np.array([[[0, 0, 40, 10], [30, 0, 80, 10], [70, 0, 110, 10]]], dtype=float)
    assert declutter(boxes, np.empty((0, 4)), 400, 300).tolist() == [0, -1, 0]


def test_most_of_a_thin_crowd_is_labelled():
    rng = np.random.default_rng(8)
    x, y = np.meshgrid(np.arange(20, 980, 60.0), np.arange(20, 640, 40.0))
    x, y = x.ravel() + rng.uniform(-4, 4, x.size), y.ravel() + rng.uniform(-4, 4, y.size)
    boxes = np.stack([np.column_stack([x, y, x + 24, y + 12])])
    chosen = declutter(boxes, np.empty((0, 4)), 1000, 650)
    assert (chosen >= 0).mean() > 0.95
