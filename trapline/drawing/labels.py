"""Where labels go so that none lies on another. Numpy only; Qt measures and draws."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]


def declutter(
    candidates: FloatArray,
    taken: FloatArray,
    width: float,
    height: float,
    cell: float = 5.0,
) -> IndexArray:
    """Return for each label which of its candidate boxes it gets, or -1 for none.

    Boxes claim the cells of a grid that they touch; a cell has one owner, so no two boxes
    that were given out overlap. The lower row wins a cell that several want.

    Parameters
    ----------
    candidates : ndarray of float, shape (c, n, 4)
        Left, top, right, bottom of each label in each of c positions, the best first.
        A box that is not wholly inside (0, 0, width, height) is not given out.
    taken : ndarray of float, shape (m, 4)
        Boxes where no label may lie.
    width, height : float
        Of the picture, in the same units.
    cell : float
        The side of a cell: smaller wastes less space and takes longer.
    """
    n_positions, n = candidates.shape[:2]
    columns, rows = int(np.ceil(width / cell)) + 1, int(np.ceil(height / cell)) + 1
    chosen = np.full(n, -1, dtype=np.intp)
    if n == 0 or width <= 0 or height <= 0:
        return chosen
    # -1 free; n taken for good by an obstacle or a label.
    owner = np.full(columns * rows, -1, dtype=np.intp)
    cells, _ = _cells(_clipped(taken, width, height), columns, cell)
    owner[cells] = n
    for position in range(n_positions):
        for _ in range(2):  # a second try for those that lost to a loser
            waiting = np.flatnonzero(chosen < 0)
            boxes = candidates[position, waiting]
            fits = (boxes[:, :2] >= 0).all(axis=1) & (boxes[:, 2:] <= [width, height]).all(axis=1)
            cells, count = _cells(boxes[fits], columns, cell)
            winners = _claim(owner, waiting[fits], cells, count, taken_for_good=n)
            chosen[winners] = position
    return chosen


def _claim(
    owner: IndexArray, rows: IndexArray, cells: IndexArray, count: IndexArray, taken_for_good: int
) -> IndexArray:
    """Give each row all its cells or none, the lowest row first; return the rows that won."""
    if not rows.size:
        return rows
    is_free = np.logical_and.reduceat(owner[cells] < 0, np.cumsum(count) - count)
    rows, cells, count = rows[is_free], cells[np.repeat(is_free, count)], count[is_free]
    if not rows.size:
        return rows
    who = np.repeat(rows, count)
    # Written from the last to the first: the lowest row stays.
    owner[cells[::-1]] = who[::-1]
    has_won = np.logical_and.reduceat(owner[cells] == who, np.cumsum(count) - count)
    won = np.repeat(has_won, count)
    owner[cells] = -1
    owner[cells[won]] = taken_for_good
    return np.asarray(rows[has_won])


def _clipped(boxes: FloatArray, width: float, height: float) -> FloatArray:
    """Return the parts of boxes inside the picture, without those that have none."""
    if not len(boxes):
        return boxes.reshape(0, 4)
    clipped = np.clip(boxes, 0.0, [width, height, width, height])
    inside = (clipped[:, 2] > clipped[:, 0]) & (clipped[:, 3] > clipped[:, 1])
    return np.asarray(clipped[inside], dtype=np.float64)


def _cells(boxes: FloatArray, columns: int, cell: float) -> tuple[IndexArray, IndexArray]:
    """Return the cells that boxes touch, box after box, and how many each touches."""
    first = np.floor(boxes[:, :2] / cell).astype(np.intp)
    last = np.floor(boxes[:, 2:] / cell).astype(np.intp)
    wide = last[:, 0] - first[:, 0] + 1
    count = wide * (last[:, 1] - first[:, 1] + 1)
    step = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    wide_of = np.repeat(wide, count)
    row = np.repeat(first[:, 1], count) + step // wide_of
    column = np.repeat(first[:, 0], count) + step % wide_of
    return row * columns + column, count
