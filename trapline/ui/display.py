"""Whether a window can be shown at all: asked before Qt, which would abort instead of answering."""

import ctypes
import os
import sys
from collections.abc import Callable, Mapping

from trapline.errors import EnvironmentProblem

_NO_DISPLAY_HELP = "Start it on a desktop, or use a command: see 'trapline --help'."


def can_load(library: str) -> bool:
    """Whether a shared library is installed and can be loaded."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def why_no_window(
    environment: Mapping[str, str] = os.environ,
    platform: str = sys.platform,
    is_there: Callable[[str], bool] = can_load,
) -> EnvironmentProblem | None:
    """Return what stands in the way of a window, or None."""
    if not platform.startswith("linux"):
        return None
    chosen = environment.get("QT_QPA_PLATFORM", "").split(";")[0].split(":")[0]
    x11, wayland = environment.get("DISPLAY"), environment.get("WAYLAND_DISPLAY")
    if not chosen and not x11 and not wayland:
        return EnvironmentProblem(
            "There is no display to open the window on (DISPLAY and WAYLAND_DISPLAY are not set).",
            "",
            _NO_DISPLAY_HELP,
        )
    # Qt falls back to Wayland by itself where that is there.
    needs_x11 = chosen == "xcb" or (not chosen and not wayland)
    if needs_x11 and not is_there("libxcb-cursor.so.0"):
        return EnvironmentProblem(
            "The library libxcb-cursor, without which no window opens, is not installed.",
            "",
            "On Debian or Ubuntu type: sudo apt install libxcb-cursor0",
        )
    return None


def missing_library(problem: ImportError) -> EnvironmentProblem | None:
    """Return in plain words that a system library is missing, when that is why Qt did not load."""
    library = str(problem).split(":")[0]
    if ".so" not in library:
        return None
    return EnvironmentProblem(
        f"The system library {library}, without which no window opens, is not installed.",
        "",
        "On Debian or Ubuntu type: sh resources/setup/open.sh",
    )
