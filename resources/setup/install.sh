# Read by open.sh and test.sh, which set `here`: system packages, virtual environment, program.
# What is there already is left alone, so that a second run is quick and needs no network.

checkout=$(CDPATH='' cd -- "$here/../.." && pwd)
environment=$checkout/.venv

# What the libraries of the program load, without any display (PySide6 on Debian 12).
program_packages="python3 python3-venv python3-pip fonts-dejavu-core
 libglib2.0-0 libgl1 libegl1 libxkbcommon0 libdbus-1-3 libfontconfig1 libfreetype6 libx11-6
 libbrotli1"
# What a real window on X needs beside that.
window_packages="libx11-xcb1 libxkbcommon-x11-0 libxcb1 libxcb-cursor0 libxcb-icccm4
 libxcb-image0 libxcb-keysyms1 libxcb-randr0 libxcb-render0 libxcb-render-util0 libxcb-shape0
 libxcb-shm0 libxcb-sync1 libxcb-util1 libxcb-xfixes0 libxcb-xkb1"
# With these the tests look at what the program wrote (pages of a PDF, projects in a GIS), and
# make a disk fail under it.
test_packages="poppler-utils python3-gdal strace"

stop() {
    printf '%s\n' "$*" >&2
    exit 2
}

is_installed() {
    # Newer releases call some libraries by the same name with t64 behind it.
    for name in "$1" "$1t64"; do
        dpkg-query -W -f='${db:Status-Status}\n' "$name" 2>/dev/null | grep -qx installed && return 0
    done
    return 1
}

install_packages() {
    command -v apt-get >/dev/null && command -v dpkg-query >/dev/null || return 0
    missing=
    for package in "$@"; do
        is_installed "$package" || missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    if [ "$(id -u)" = 0 ]; then
        as_root=
    elif command -v sudo >/dev/null; then
        as_root=sudo
    else
        stop "These packages are missing; install them as root, then try again:
apt-get install --no-install-recommends$missing"
    fi
    echo "Installing system packages:$missing"
    # Unquoted: the words are separate arguments.
    $as_root apt-get -q -o DPkg::Lock::Timeout=300 update &&
        $as_root env DEBIAN_FRONTEND=noninteractive apt-get -q -y \
            -o DPkg::Lock::Timeout=300 install --no-install-recommends $missing ||
        stop "The system packages could not be installed."
}

find_python() {
    for python in python3 /usr/bin/python3 python3.14 python3.13 python3.12 python3.11; do
        "$python" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' \
            >/dev/null 2>&1 && return 0
    done
    stop "Python 3.11 or newer is needed, with its venv module."
}

# install_program EXTRA: `program` alone, or `test` with the tools of the tests.
install_program() {
    find_python
    wanted="$checkout $("$python" -V) $(cksum <"$checkout/pyproject.toml")"
    for kept in "$environment/installed-$1" "$environment/installed-test"; do
        [ -f "$kept" ] && [ "$(cat "$kept")" = "$wanted" ] && return 0
    done
    case $1 in
        test) target=$checkout[test] ;;
        *) target=$checkout ;;
    esac
    echo "Installing the program into $environment (some minutes the first time)"
    # Made anew, so that nothing of an older version or of another place is left in it.
    "$python" -m venv --clear "$environment" &&
        "$environment/bin/python" -m pip install --quiet --disable-pip-version-check \
            --editable "$target" ||
        stop "The program could not be installed. Is there a network?"
    printf '%s\n' "$wanted" >"$environment/installed-$1"
}
