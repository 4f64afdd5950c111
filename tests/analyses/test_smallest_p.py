"""The smallest p of a layout, against numbers of layouts counted by hand."""

from dataclasses import replace

import pytest

from trapline.analyses.smallest_p import smallest_p
from trapline.model.kept_draw import KeptDraw
from trapline.science.layout import Scheme, draw_layout


def drawn(scheme: Scheme, before: tuple[tuple[int, ...], ...] = ()) -> KeptDraw:
    rounds = draw_layout(scheme, 1).rounds.tolist()
    return KeptDraw(
        scheme=scheme.as_dict(),
        seed=1,
        bait_ids=tuple("abcdefgh"[: scheme.n_baits]),
        place_ids=tuple(str(n) for n in range(scheme.n_places)),
        rounds=tuple(tuple(row) for row in rounds),
        before=before,
    )


@pytest.mark.parametrize(
    ("scheme", "wanted"),
    [
        # Two baits on two places in one round: two layouts, each the other renamed.
        (Scheme(2, 2, 1), 1.0),
        # Two blocks of two places: 2 × 2 layouts, two of them alike up to names.
        (Scheme(4, 2, 1), 2 / 4),
        (Scheme(8, 2, 1), 2 / 16),
        # One block of three: 3! layouts, all alike up to names.
        (Scheme(3, 3, 1), 1.0),
        (Scheme(6, 3, 1), 6 / 36),
        # Latin squares of order 4: 576 (OEIS A002860), 4! of them alike up to names.
        (Scheme(4, 4, 4), 24 / 576),
    ],
)
def test_p_is_no_smaller_than_the_share_of_layouts_with_other_names(
    scheme: Scheme, wanted: float
) -> None:
    assert smallest_p(drawn(scheme)) == pytest.approx(wanted)


def test_rounds_of_an_earlier_trip_leave_fewer_layouts() -> None:
    # After 0 1 0 1 only 1 0 1 0 is left, so that each place gets each bait once.
    scheme = Scheme(4, 2, 2)
    kept = KeptDraw(
        scheme.as_dict(), 1, ("a", "b"), tuple("pqrs"), ((1, 0, 1, 0),), before=((0, 1, 0, 1),)
    )
    assert smallest_p(kept) == 1.0


def test_rounds_fished_before_the_draw_leave_fewer_layouts() -> None:
    # After 0 1 0 1 only 1 0 1 0 is left, so that each place gets each bait once.
    scheme = Scheme(4, 2, 2).as_dict()
    rounds = ((0, 1, 0, 1), (1, 0, 1, 0))
    kept = KeptDraw(scheme, 1, ("a", "b"), tuple("pqrs"), rounds, n_given=1)
    assert smallest_p(kept) == 1.0
    assert smallest_p(replace(kept, n_given=0)) == pytest.approx(2 / 4)
    assert smallest_p(replace(kept, n_dealt_before=1)) is None


def test_many_layouts_give_a_bound() -> None:
    # Latin squares of order 5: 161280 (OEIS A002860).
    assert smallest_p(drawn(Scheme(5, 5, 5))) == pytest.approx(120 / 161280)


def test_too_many_to_count_is_no_limit() -> None:
    scheme = Scheme(20, 4, 6, kind="whole line")
    assert smallest_p(KeptDraw(scheme.as_dict(), 1, tuple("abcd"), (), ())) == 0.0


def test_no_test_is_no_number() -> None:
    fits = drawn(Scheme(4, 2, 1))
    odd = KeptDraw(fits.scheme, 1, fits.bait_ids, fits.place_ids, ((0, 0, 0, 0),))
    assert smallest_p(odd) is None
    assert smallest_p(KeptDraw({}, 1, (), (), ())) is None
