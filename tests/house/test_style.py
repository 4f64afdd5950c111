"""The checks of style and types, as tests, so that one command says all."""

import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

CHECKOUT: Final = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    "words",
    [["ruff", "check", "--quiet"], ["ruff", "format", "--check", "--quiet", "--diff"], ["mypy"]],
    ids=lambda words: " ".join(words[:2]),
)
def test_the_code_passes(words: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *words], cwd=CHECKOUT, capture_output=True, text=True, timeout=600
    )
    assert done.returncode == 0, done.stdout + done.stderr
