"""The study of the verdict: is it right as often as it says?

    python tests/studies/verdict_study.py --part coverage --runs 200 --jobs 2
    python tests/studies/verdict_study.py --report

Ctrl-C stops it; the same command goes on where it stopped, with the same numbers as in one
go. Parts: coverage (with false winners, ours and those of others), effects (rounds and
places), special (control, unequal dispersion, disturbance), calibration (truths drawn from
the priors), best (chance of being best).
"""

import argparse
import math
import multiprocessing
import os
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Final

# Workers start afresh and inherit this: one thread each, or they get in each other's way.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
_CHECKOUT: Final = str(Path(__file__).resolve().parents[2])
if _CHECKOUT not in sys.path:
    sys.path.insert(0, _CHECKOUT)

from tests.studies.study_cells import FIRST_RUNS, PARTS, Cell, cells_of  # noqa: E402 - a script finds it only now
from tests.studies.study_kept import Kept  # noqa: E402 - a script finds it only now
from tests.studies.study_runs import Columns, run_cell  # noqa: E402 - a script finds it only now

Unit = tuple[Cell, range]

DRAWN_RUNS: Final = 300  # of a calibration cell whose engine draws
MORE_RUNS: Final = 1000  # for a cell that looks bad after the first ones, and judged by these
LOOKS_BAD: Final = 0.92
_AT_ONCE: Final = 50
_SAY_EVERY_S: Final = 5.0


def main(words: list[str] | None = None) -> int:
    """Run what the command line asks for."""
    args = _parser().parse_args(words)
    out = Path(args.out)
    for part in [args.part] if args.part else [] if args.report else list(PARTS):
        try:
            run_part(part, out, cells=args.cells, runs=args.runs, jobs=args.jobs,
                     more_runs=args.more_runs)  # fmt: skip
        except KeyboardInterrupt:
            print("\nStopped. The same command goes on from here.", file=sys.stderr)
            return 130
    if args.report:
        from tests.studies.study_report import write_report

        print(write_report(out, Path(args.results)))
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--part", choices=list(PARTS), help="one part; without it all of them")
    parser.add_argument("--cells", type=int, help="only so many cells, spread over the part")
    parser.add_argument("--runs", type=int, help="runs of each cell at first")
    parser.add_argument("--more-runs", type=int, default=MORE_RUNS, metavar="N",
                        help="more runs of a cell that covers less than .92 at first")  # fmt: skip
    parser.add_argument("--jobs", type=int, default=1, help="processes; 0: this one")
    parser.add_argument("--out", default="study_results", help="folder of the raw results")
    parser.add_argument("--report", action="store_true", help="tables, pictures, result files")
    parser.add_argument("--results", default="resources/study", metavar="FOLDER",
                        help="where --report writes what the program ships")  # fmt: skip
    return parser


def run_part(
    part: str, out: Path, *, cells: int | None, runs: int | None, jobs: int, more_runs: int
) -> None:
    """Run the first runs of every cell, then more where coverage looks bad."""
    kept = Kept(out, part)
    chosen = cells_of(part, cells)
    first = {cell: runs or _first_runs(cell) for cell in chosen}
    looks = min(runs or FIRST_RUNS[part], FIRST_RUNS[part])
    _run(kept, part, [(c, s) for c in chosen for s in kept.missing(c, first[c], _AT_ONCE)], jobs)
    _run(kept, f"{part}, more runs", [
        (cell, stretch)
        for cell in chosen
        if more_runs and looks_bad(kept, cell, looks)
        for stretch in kept.missing(cell, looks + more_runs, _AT_ONCE)
    ], jobs)  # fmt: skip


def _first_runs(cell: Cell) -> int:
    if cell.part == "calibration" and cell["engine"] == "drawn":
        return DRAWN_RUNS
    return FIRST_RUNS[cell.part]


def looks_bad(kept: Kept, cell: Cell, first_runs: int) -> bool:
    """Whether a cell with three traps a bait or more gets more runs; by its first runs alone."""
    if cell.part not in ("coverage", "effects", "special") or cell.count("traps") < 3:
        return False
    found = kept.columns(cell, first_runs)
    names = {"ratio_hit", "rate_hit", "better_hit"} & found.keys()
    return min(found[name].mean() for name in names) < LOOKS_BAD


def _run(kept: Kept, what: str, units: list[Unit], jobs: int) -> None:
    if not units:
        return
    n_runs = sum(len(stretch) for _, stretch in units)
    open_units = Counter(cell for cell, _ in units)
    n_cells, done, start, said_s = len(open_units), 0, time.monotonic(), -math.inf
    for cell, stretch, columns in _results(units, jobs):
        kept.add(cell, stretch, columns)
        done += len(stretch)
        open_units -= Counter([cell])
        gone_s = time.monotonic() - start
        if gone_s - said_s < _SAY_EVERY_S and done < n_runs:
            continue
        said_s = gone_s
        left_min = gone_s / done * (n_runs - done) / 60
        print(f"{what}: {n_cells - len(open_units)} of {n_cells} cells, {done:,} of {n_runs:,} "
              f"runs, about {left_min:.1f} min left", file=sys.stderr, flush=True)  # fmt: skip


def _results(units: list[Unit], jobs: int) -> Iterator[tuple[Cell, range, Columns]]:
    if jobs == 0:
        yield from map(_work, units)
        return
    # Fresh processes: the threads of BLAS are counted when numpy is first imported.
    context = multiprocessing.get_context("spawn")
    with context.Pool(jobs, initializer=_leave_ctrl_c_to_the_parent) as pool:
        yield from pool.imap_unordered(_work, units)


def _leave_ctrl_c_to_the_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _work(unit: Unit) -> tuple[Cell, range, Columns]:
    cell, stretch = unit
    return cell, stretch, run_cell(cell, stretch)


if __name__ == "__main__":
    sys.exit(main())
