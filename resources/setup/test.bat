@echo off
rem Installs the program with the tools of its tests into .venv and runs all tests.
cd /d "%~dp0..\.."
if not exist .venv\installed-test (
    py -3 -m venv .venv || exit /b 2
    .venv\Scripts\python -m pip install --quiet --editable .[test] || exit /b 2
    echo done > .venv\installed-test
)
.venv\Scripts\python -m pytest %*
