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
            fits = (
                (boxes[:, 0] >= 0)
                & (boxes[:, 1] >= 0)
                & (boxes[:, 2] <= width)
                & (boxes[:, 3] <= height)
            )
            waiting, boxes = waiting[fits], boxes[fits]
            if not waiting.size:
                break
            cells, count = _cells(boxes, columns, cell)
            start = np.cumsum(count) - count
            is_free = np.logical_and.reduceat(owner[cells] < 0, start)
            keep = np.repeat(is_free, count)
            waiting, cells, count = waiting[is_free], cells[keep], count[is_free]
            if not waiting.size:
                break
            who = np.repeat(waiting, count)
            # Written from the last to the first: the lowest row stays.
            owner[cells[::-1]] = who[::-1]
            start = np.cumsum(count) - count
            has_won = np.logical_and.reduceat(owner[cells] == who, start)
            owner[cells] = np.where(np.repeat(has_won, count), n, -1)
            # A loser must not free a cell that it shares with a winner.
            owner[cells[np.repeat(has_won, count)]] = n
            chosen[waiting[has_won]] = position
    return chosen


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
