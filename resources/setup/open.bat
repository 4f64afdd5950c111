@echo off
rem Installs the program into .venv and opens it on a fresh copy of a sample project.
cd /d "%~dp0..\.."
if not exist .venv\installed-program (
    py -3 -m venv .venv || exit /b 2
    .venv\Scripts\python -m pip install --quiet --editable . || exit /b 2
    echo done > .venv\installed-program
)
.venv\Scripts\python -m trapline --sample lake_bait_trial
