"""The examples in docstrings run and give what they say."""

import doctest
import importlib
import warnings
from pathlib import Path
from typing import Final

import pytest

PACKAGE: Final = Path(__file__).resolve().parents[2] / "trapline"
WITH_EXAMPLES: Final = [
    ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
    for path in sorted(PACKAGE.rglob("*.py"))
    if ">>> " in path.read_text("utf-8")
]


def test_there_are_examples_to_run() -> None:
    assert any(name.startswith("trapline.science.") for name in WITH_EXAMPLES)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_the_examples_run(name: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0
