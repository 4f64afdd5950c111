"""Tools that some tests need: missing, they are a fault on a build machine, a skip elsewhere."""

import os
import shutil

import pytest


def require(tool: str, package: str) -> None:
    """Go on where a tool is installed; fail on a build machine, which installs it, else skip."""
    if shutil.which(tool) is None:
        absent(f"'{tool}' is not installed (Debian: {package})")


def absent(why: str) -> None:
    """Fail on a build machine (``CI`` is set), skip on a developer's: never pass silently."""
    if os.environ.get("CI"):
        pytest.fail(why)
    pytest.skip(why)
