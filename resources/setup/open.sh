#!/bin/sh
# Installs what the program needs and opens it on a fresh copy of a sample project.
# Without a display it writes the field sheet and the trip summary of the sample as PDF instead.
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
. "$here/install.sh"

sample=lake_bait_trial
# Unquoted: the words are separate arguments.
install_packages $program_packages $window_packages
install_program program

if [ "$(uname)" = Darwin ] || [ -n "${DISPLAY:-}${WAYLAND_DISPLAY:-}${QT_QPA_PLATFORM:-}" ]; then
    exec "$environment/bin/python" -m trapline --sample "$sample"
fi
echo "There is no display, so no window can open; two PDF files are written instead."
project=$("$environment/bin/trapline" samples copy "$sample")
"$environment/bin/trapline" sheet "$project" --out "${project%.gpkg} field sheet.pdf"
exec "$environment/bin/trapline" summary "$project" --out "${project%.gpkg} summary.pdf"
