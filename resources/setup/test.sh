#!/bin/sh
# Installs what the program and its tests need and runs all tests, those of style and types too.
# Arguments are handed to pytest: sh resources/setup/test.sh -k gaps
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
. "$here/install.sh"

# Unquoted: the words are separate arguments.
install_packages $program_packages $test_packages
install_program test

cd "$checkout"
# pytest itself fails when a test fails, and when there was none to run.
exec "$environment/bin/python" -m pytest -n 2 "$@"
