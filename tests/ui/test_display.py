from collections.abc import Mapping

import pytest

from trapline.ui.display import can_load, missing_library, why_no_window

NEEDS_XCB = "libxcb-cursor0"


@pytest.mark.parametrize(
    ("environment", "said"),
    [
        ({}, "no display"),
        ({"DISPLAY": ""}, "no display"),
        ({"DISPLAY": ":0"}, NEEDS_XCB),
        ({"QT_QPA_PLATFORM": "xcb"}, NEEDS_XCB),
        ({"QT_QPA_PLATFORM": "xcb;wayland", "DISPLAY": ":0"}, NEEDS_XCB),
        ({"DISPLAY": ":0", "WAYLAND_DISPLAY": "wayland-0"}, ""),
        ({"WAYLAND_DISPLAY": "wayland-0"}, ""),
        ({"QT_QPA_PLATFORM": "offscreen"}, ""),
        ({"QT_QPA_PLATFORM": "minimal:size=1x1"}, ""),
    ],
)
def test_a_window_needs_a_display_and_x11_its_library(
    environment: Mapping[str, str], said: str
) -> None:
    problem = why_no_window(environment, "linux", lambda _: False)
    assert said in str(problem) if said else problem is None


def test_with_the_library_a_display_is_enough() -> None:
    asked: list[str] = []
    assert why_no_window({"DISPLAY": ":0"}, "linux", lambda name: not asked.append(name)) is None
    assert asked == ["libxcb-cursor.so.0"]


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_other_systems_always_have_a_display(platform: str) -> None:
    assert why_no_window({}, platform, lambda _: False) is None


def test_a_library_that_is_not_there_cannot_be_loaded() -> None:
    assert not can_load("libno-such-thing.so.0")


def test_only_a_missing_system_library_is_put_into_words() -> None:
    problem = missing_library(ImportError("libGL.so.1: cannot open shared object file"))
    assert "libGL.so.1" in str(problem)
    assert missing_library(ImportError("cannot import name 'run' from 'trapline.ui.app'")) is None
