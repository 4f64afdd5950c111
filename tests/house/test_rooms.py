"""The rooms of the house: what may import what, how long things are, how they are called.

Every import is read, those inside functions and under TYPE_CHECKING too.
"""

import ast
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest

PACKAGE: Final = Path(__file__).resolve().parents[2] / "trapline"

# From the bottom up. Rooms on one step are strangers to each other.
STEPS: Final = (
    ("errors",),
    ("folders",),
    ("units",),
    ("model", "science"),
    ("store", "exchange"),
    ("actions", "analyses"),
    ("drawing",),
    ("reports",),
    ("ui", "cli"),
    ("__main__",),
)
STEP: Final = {room: number for number, rooms in enumerate(STEPS) for room in rooms}

EVERYWHERE: Final = frozenset(STEP)
HOMES: Final = {
    "PySide6": frozenset({"ui", "drawing", "reports"}),
    "shiboken6": frozenset({"ui", "drawing", "reports"}),
    "defusedxml": frozenset({"exchange"}),
    "matplotlib": frozenset({"drawing"}),
    "numpy": EVERYWHERE,
    "pandas": frozenset({"analyses", "exchange", "cli"}),
    "pyproj": frozenset({"science"}),
    "scipy": frozenset({"science"}),
    "shapely": frozenset({"science"}),
    "sqlite3": frozenset({"store"}),
}
# Start-up: these load on first use where people wait for a window or a line of text.
HEAVY: Final = frozenset({"matplotlib", "numpy", "pandas", "pyproj", "scipy", "shapely"})
LIGHT_ROOMS: Final = frozenset({"ui", "cli", "__main__"})
DOORS_ROUND_THE_BACK: Final = frozenset({"__import__", "import_module", "run_module"})

MAX_FILE_LINES: Final = 400
MAX_FUNCTION_LINES: Final = 60
MAX_METHODS: Final = 20
FORBIDDEN_NAMES: Final = frozenset(
    {"utils", "util", "helpers", "helper", "common", "misc", "manager", "base", "core"}
)

Import = tuple[int, str, bool]  # line, dotted name, whether it runs when the module loads


def imports_of(tree: ast.AST, runs_at_load: bool = True) -> Iterator[Import]:
    """Yield every import; ``from trapline import store`` counts as ``trapline.store``."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name, runs_at_load) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            if module == "trapline":
                names = (f"trapline.{alias.name}" for alias in node.names)
                yield from ((node.lineno, name, runs_at_load) for name in names)
            else:
                yield node.lineno, module, runs_at_load
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield from imports_of(node, runs_at_load=False)
        elif isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            for child in node.body:
                yield from imports_of(ast.Module([child], []), runs_at_load=False)
            yield from imports_of(ast.Module(node.orelse, []), runs_at_load)
        else:
            yield from imports_of(node, runs_at_load)


def wrong_imports(room: str, source: str) -> list[str]:
    """Return one line for each import that a module of `room` must not have."""
    tree = ast.parse(source)
    wrong = []
    for line, name, runs_at_load in imports_of(tree):
        library = name.split(".")[0]
        if name.startswith("."):
            reason = "is relative"
        elif library == "trapline":
            reason = _wrong_arrow(room, name)
        else:
            reason = _wrong_library(room, library, runs_at_load)
        if reason:
            wrong.append(f"line {line}: {name} {reason}")
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            # A dialog of Qt has an `exec` of its own.
            if called.rpartition(".")[2] in DOORS_ROUND_THE_BACK or called in ("exec", "eval"):
                wrong.append(f"line {node.lineno}: {called} hides an import from this test")
    return wrong


def _wrong_arrow(room: str, name: str) -> str:
    if room == "__init__":
        return "is imported by the package itself, which imports nothing"
    target = name.split(".")[1] if "." in name else ""
    if target in ("", "__version__"):
        return ""
    if target not in STEP:
        return "is in a room that is not known"
    if target == room:
        return ""
    if STEP[target] > STEP[room]:
        return f"points up from {room}"
    if STEP[target] == STEP[room]:
        return f"points sideways from {room}"
    return ""


def _wrong_library(room: str, library: str, runs_at_load: bool) -> str:
    if library in HOMES:
        if room not in HOMES[library]:
            return f"is not at home in {room}"
        if library in HEAVY and runs_at_load and room in LIGHT_ROOMS:
            return f"loads with {room}: import it where it is used"
        return ""
    return "" if library in sys.stdlib_module_names else "has no home"


def too_long(source: str) -> list[str]:
    """Return one line for each budget that a module exceeds."""
    wrong = []
    lines = source.count("\n")
    if lines > MAX_FILE_LINES:
        wrong.append(f"the file has {lines} lines")
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            if length > MAX_FUNCTION_LINES:
                wrong.append(f"line {node.lineno}: {node.name} has {length} lines")
        elif isinstance(node, ast.ClassDef):
            methods = sum(
                isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef) for child in node.body
            )
            if methods > MAX_METHODS:
                wrong.append(f"line {node.lineno}: {node.name} has {methods} methods")
    return wrong


def room_of(path: Path) -> str:
    """Return the room of a module: the folder or the file right under the package."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


MODULES: Final = sorted(PACKAGE.rglob("*.py"))


def _found(check: Callable[[Path], object]) -> dict[str, object]:
    """Return what `check` says of each module that it has something to say of."""
    said = {str(path.relative_to(PACKAGE.parent)): check(path) for path in MODULES}
    return {name: words for name, words in said.items() if words}


def test_there_are_modules_to_look_at() -> None:
    assert {"model", "store", "science"} <= {room_of(path) for path in MODULES}


def test_every_module_stands_in_a_known_room() -> None:
    assert _found(lambda path: {room_of(path)} - {*STEP, "__init__"}) == {}


def test_every_module_imports_only_what_its_room_may() -> None:
    assert _found(lambda path: wrong_imports(room_of(path), path.read_text("utf-8"))) == {}


def test_every_module_keeps_to_its_budget() -> None:
    assert _found(lambda path: too_long(path.read_text("utf-8"))) == {}


def test_no_module_is_called_after_nothing() -> None:
    def names(path: Path) -> set[str]:
        return set(path.relative_to(PACKAGE).with_suffix("").parts)

    assert _found(lambda path: names(path) & FORBIDDEN_NAMES) == {}


def test_every_init_but_the_top_one_is_empty() -> None:
    inits = [path for path in MODULES if path.name == "__init__.py" and path.parent != PACKAGE]
    assert inits
    assert [path for path in inits if path.read_text("utf-8").strip()] == []


def test_every_folder_with_modules_is_a_package() -> None:
    folders = {path.parent for path in MODULES}
    assert [folder for folder in folders if not (folder / "__init__.py").exists()] == []


# The checker itself, on samples that break one rule each.

BAD: Final = [
    ("model", "import trapline.store.project", "points up"),
    ("model", "def f():\n    from trapline.store.project import Project", "points up"),
    ("model", "if TYPE_CHECKING:\n    from trapline.ui.app import run", "points up"),
    ("science", "class A:\n    from trapline.cli import gaps", "points up"),
    ("store", "try:\n    import trapline.exchange.gpx\nexcept ImportError:\n    x = 1", "points"),
    ("exchange", "from trapline.store import project", "points sideways"),
    ("model", "from trapline import store", "points up"),
    ("store", "from trapline.exchange import gpx", "points sideways"),
    ("science", "from trapline.store.rows import decode", "points up"),
    ("science", "from trapline.model.trip import Trip", "points sideways"),
    ("model", "from trapline.science.effort import x", "points sideways"),
    ("errors", "from trapline.folders import shipped_folder", "points up"),
    ("actions", "from trapline.analyses import spacing_check", "points sideways"),
    ("analyses", "from trapline.actions import samples", "points sideways"),
    ("ui", "from trapline.cli import main", "points sideways"),
    ("cli", "from trapline.ui.app import run", "points sideways"),
    ("errors", "from trapline.units import METRES", "points up"),
    ("cli", "import trapline.__main__", "points up"),
    ("cli", "import trapline.cellar.wine", "not known"),
    ("cli", "from trapline import cellar", "not known"),
    ("__init__", "import trapline.errors", "imports nothing"),
    ("cli", "from . import gaps", "is relative"),
    ("cli", "from ..store import project", "is relative"),
    ("actions", "import sqlite3", "not at home in actions"),
    ("analyses", "from PySide6.QtCore import QObject", "not at home in analyses"),
    ("cli", "import PySide6", "not at home in cli"),
    ("reports", "import matplotlib.figure", "not at home in reports"),
    ("analyses", "def f():\n    import scipy.stats", "not at home in analyses"),
    ("store", "import pyproj", "not at home in store"),
    ("drawing", "import shapely", "not at home in drawing"),
    ("science", "import pandas as pd", "not at home in science"),
    ("store", "import defusedxml.ElementTree", "not at home in store"),
    ("model", "import attrs", "has no home"),
    ("exchange", "def f():\n    import requests", "has no home"),
    ("ui", "import numpy as np", "loads with ui"),
    ("cli", "import pandas", "loads with cli"),
    ("cli", "try:\n    import numpy\nexcept ImportError:\n    raise", "loads with cli"),
    ("cli", "import importlib\nimportlib.import_module('trapline.ui.app')", "hides an import"),
    ("cli", "def f():\n    __import__('PySide6')", "hides an import"),
    ("cli", "exec('import PySide6')", "hides an import"),
]
GOOD: Final = [
    ("model", "import math\nfrom trapline import __version__\nimport trapline.units"),
    ("store", "import sqlite3\nfrom trapline.model.trip import Trip"),
    ("exchange", "from trapline.science.coordinates import x\nimport pandas, defusedxml, numpy"),
    ("science", "import scipy.stats, pyproj, shapely, numpy"),
    ("analyses", "import pandas, numpy\nfrom trapline.exchange.tables import x"),
    ("drawing", "import matplotlib, numpy, PySide6.QtGui"),
    ("cli", "def f():\n    import numpy, pandas\n    from trapline.reports import sheet"),
    ("ui", "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import numpy"),
    ("ui", "def ask(dialog):\n    return dialog.exec()"),
    ("__main__", "from trapline.ui.app import run\nfrom trapline.cli.main import main"),
]


@pytest.mark.parametrize(("room", "source", "reason"), BAD)
def test_a_wrong_import_is_found(room: str, source: str, reason: str) -> None:
    found = wrong_imports(room, source)
    assert any(reason in line for line in found), found


@pytest.mark.parametrize(("room", "source"), GOOD)
def test_a_right_import_is_not_reported(room: str, source: str) -> None:
    assert wrong_imports(room, source) == []


def test_each_budget_is_measured() -> None:
    fits = "x = 1\n" * MAX_FILE_LINES
    assert too_long(fits) == []
    assert too_long(fits + "y = 1\n") == ["the file has 401 lines"]
    body = "    x = 1\n"
    assert too_long("def f():\n" + body * (MAX_FUNCTION_LINES - 1)) == []
    assert too_long("class A:\n  def f():\n" + body * MAX_FUNCTION_LINES) == [
        "line 2: f has 61 lines"
    ]
    method = "    def f(self): ...\n"
    assert too_long("class A:\n" + method * MAX_METHODS) == []
    assert too_long("class A:\n" + method * (MAX_METHODS + 1)) == ["line 1: A has 21 methods"]
