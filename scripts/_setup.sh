# shellcheck shell=bash
# What scripts/demo and scripts/test share: from a fresh checkout to a working .venv.
# It is sourced, runs on bash 3.2 and later, and calls nothing but Python and, as root
# on Debian and its kin, apt-get.

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
venv=$root/.venv
# Where the environment is empty, bash has a PATH of its own that its children do not see.
export PATH

say() { printf '== %s\n' "$*"; }

# Each argument is one line of what went wrong and what to do.
stop() {
    printf '\n' >&2
    printf '%s\n' "$@" >&2
    exit 1
}

may_install() { [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null; }

apt_install() {
    say "Installing the Debian packages: $*"
    apt-get update -qq >/dev/null &&
        DEBIAN_FRONTEND=noninteractive \
            apt-get install -qq --yes --no-install-recommends "$@" >/dev/null
}

makes_environments() { "$1" -c 'import ensurepip, venv' 2>/dev/null; }

# Sets $python: the newest Python from 3.11 on that can make a virtual environment.
find_python() {
    local name package found=""
    for name in python3.14 python3.13 python3.12 python3.11 python3 python; do
        "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || continue
        python=$name
        makes_environments "$python" && return
        found=${found:-$name}
    done
    [ -n "$found" ] || stop \
        "There is no Python 3.11 or later on the PATH (looked for python3.14 to python3.11, python3, python)." \
        "Debian 12, Ubuntu 24.04 or later:  sudo apt-get install python3 python3-venv" \
        "macOS with Homebrew:               brew install python" \
        "elsewhere:                         https://www.python.org/downloads/"

    python=$found
    package=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
    if may_install && apt_install "$package" && makes_environments "$python"; then return; fi
    stop \
        "$(command -v "$python") cannot make a virtual environment: its modules venv or ensurepip are missing." \
        "Debian, Ubuntu:  sudo apt-get install $package" \
        "elsewhere:       install the part of Python that brings venv and ensurepip." \
        "Then run this script again."
}

venv_works() {
    "$venv/bin/python" -c 'import pip, sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

make_venv() {
    venv_works && return
    find_python
    say "Making the virtual environment $venv with $("$python" --version)"
    "$python" -m venv --clear "$venv" || stop \
        "The virtual environment could not be made; Python's own words are above." \
        "Is there room on the disk, and may you write to $root?"
}

# What an installation was made from: this folder, and pyproject.toml as it was.
state() { printf '%s %s' "$(cksum <"$root/pyproject.toml")" "$root"; }

installed() { [ "$(cat "$venv/installed-$1" 2>/dev/null)" = "$(state)" ]; }

# install run: the package and what it needs; install dev: what the tests need as well.
install() {
    local what=".[all]"
    if installed "$1" || installed dev; then return; fi
    [ "$1" = run ] || what=".[$1]"
    say "Installing silhouette3d and its libraries into .venv (some minutes the first time)"
    (cd "$root" && "$venv/bin/python" -m pip install --quiet --editable "$what") || stop \
        "pip could not install the libraries; its own words are above." \
        "Most often the machine has no network, or reaches the package index through a proxy" \
        "or a mirror that pip does not know: see 'pip config' and the variables HTTPS_PROXY and" \
        "PIP_INDEX_URL. Then run this script again; it goes on where it stopped."
    state >"$venv/installed-$1"
}

# Drawing without a screen takes system libraries; without them VTK crashes, so it is
# tried in a process of its own.
draws() {
    "$venv/bin/python" -c '
import subprocess, sys
code = """
import pyvista
plotter = pyvista.Plotter(off_screen=True, window_size=(64, 64))
plotter.add_mesh(pyvista.Cube(), color="red")
assert plotter.screenshot(return_img=True).std() > 0
"""
sys.exit(subprocess.run([sys.executable, "-c", code], capture_output=True).returncode != 0)'
}

make_drawing_work() {
    [ -e "$venv/draws" ] && return
    if ! draws; then
        if ! { may_install && apt_install libegl1 libgl1 && draws; }; then
            stop \
                "Pictures cannot be drawn here: VTK finds no OpenGL that works without a screen." \
                "Debian, Ubuntu:  sudo apt-get install libegl1 libgl1" \
                "elsewhere:       install Mesa's EGL and GL libraries." \
                "Then run this script again."
        fi
    fi
    : >"$venv/draws"
}

has_browser() {
    local name
    for name in chromium chromium-browser google-chrome google-chrome-stable; do
        command -v "$name" >/dev/null && return
    done
    return 1
}

# The tests look at pages in a browser; without one they say so and go on.
find_browser() {
    has_browser && return
    if may_install && apt_install chromium && has_browser; then return; fi
    say "There is no Chromium here: tests that need a browser are skipped." \
        "Debian:  sudo apt-get install chromium"
}

# set_up run, or set_up dev.
set_up() {
    make_venv
    install "$1"
    make_drawing_work
    if [ "$1" = dev ]; then find_browser; fi
}
