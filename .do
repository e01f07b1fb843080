#!/usr/bin/env bash
# Sets previz up in .venv beside this file, where that is not done yet, and runs it.
#
#   ./.do render scenes/signal-cabin.yaml   any command of previz, with its options
#   ./.do test                              the tests; options go to pytest
#   ./.do setup                             only the setting up, tests' needs included
#
# On Debian, run as root, it installs what is missing of Python and of the system's libraries;
# elsewhere, on macOS too, it says what to install. It needs no network once it has run. Windows has no
# bash: see README.md.

set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd -P)
venv="$here/.venv"
stamp_of() { printf '%s' "$venv/.ready-$1"; }

say() { printf '%s\n' "$*" >&2; }

fail() {
    say "$@"
    exit 1
}

usage() {
    say "Use: ./.do COMMAND ..., where COMMAND is a command of previz (render, check, block, ...),"
    say "'test' for the tests or 'setup' to only set up. './.do --help' lists the commands."
}

can_install() { [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; }

# Shows what a command says only if it fails.
quietly() {
    local told
    told=$("$@" 2>&1) || {
        say "$told"
        return 1
    }
}

apt_updated=no
apt_install() {
    if [ "$apt_updated" = no ]; then
        quietly apt-get update -qq || say "The package lists could not be renewed; the old ones serve."
        apt_updated=yes
    fi
    quietly env DEBIAN_FRONTEND=noninteractive \
        apt-get install -qq -y --no-install-recommends -o Dpkg::Use-Pty=0 "$@"
}

new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# Prints the first Python that is new enough; fails where there is none.
find_python() {
    local name
    for name in ${PYTHON:+"$PYTHON"} python3 python3.11 python3.12 python3.13 python3.14; do
        if command -v "$name" >/dev/null 2>&1 && new_enough "$name"; then
            command -v "$name"
            return 0
        fi
    done
    return 1
}

can_make_venv() { "$1" -c 'import ensurepip, venv' >/dev/null 2>&1; }

choose_python() {
    python=$(find_python) || python=
    if [ -z "$python" ]; then
        can_install || fail "previz needs Python 3.11 or newer, and none was found." \
            "Install one; on Debian: sudo apt-get install python3 python3-venv; on macOS: brew install python"
        say "Installing Python ..."
        apt_install python3 python3-venv || fail "Python could not be installed; see above."
        python=$(find_python) || fail "The system's Python is older than 3.11." \
            "Install a newer one and name it: PYTHON=/path/to/python3 ./.do ..."
    fi
    if ! can_make_venv "$python"; then
        local package
        package="python$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')-venv"
        can_install || fail "$python cannot make virtual environments." \
            "Install its venv module; on Debian: sudo apt-get install $package"
        say "Installing $package ..."
        apt_install "$package" || fail "$package could not be installed; see above."
        can_make_venv "$python" || fail "$python still cannot make virtual environments." \
            "Install its venv module, or name another Python: PYTHON=/path/to/python3 ./.do ..."
    fi
}

# What an environment was made for; a change of any part of it makes a new one or renews it.
wanted() {
    printf '%s\n' "$here"
    cksum <"$here/pyproject.toml"
}

ready() {
    local extra
    for extra in "$@"; do
        [ -f "$(stamp_of "$extra")" ] && [ "$(cat "$(stamp_of "$extra")")" = "$(wanted)" ] &&
            "$venv/bin/python" -c '' >/dev/null 2>&1 && return 0
    done
    return 1
}

has_library() { "$venv/bin/python" -c "import ctypes; ctypes.CDLL('$1')" >/dev/null 2>&1; }

# Installs a package where a library of it is missing, or says how to. $1: library, $2: what it
# is for, the rest: packages.
add_library() {
    local library=$1 use=$2
    shift 2
    if has_library "$library"; then return 0; fi
    if can_install; then
        say "Installing $* ..."
        apt_install "$@" || say "$* could not be installed. It is needed for $use."
    else
        say "$library is missing. It is needed for $use; on Debian: sudo apt-get install $*"
    fi
}

add_libraries() {
    [ "$(uname -s)" = Linux ] || return 0
    add_library libatomic.so.1 "rendering" libatomic1
    add_library libstdc++.so.6 "rendering" libstdc++6
    # GL is of use only to pyrender, which is not installed for every Python.
    if "$venv/bin/python" -c 'import importlib.util as u, sys; sys.exit(not u.find_spec("pyrender"))'
    then
        local use="the quicker blocking drawings, which take the engine without it"
        add_library libGL.so.1 "$use" libgl1
        add_library libEGL.so.1 "$use" libegl1 libgl1-mesa-dri
    fi
}

# Whether the engine finds something to run on: a GPU, or LLVM.
can_render() { "$venv/bin/python" -c 'from previz.engine.backend import choose; choose()' >/dev/null 2>&1; }

# LLVM comes as a package of Python for Linux on x86-64 alone, and a GPU does without.
add_llvm() {
    if can_render; then return 0; fi
    local how="sudo apt-get install libllvm19"
    [ "$(uname -s)" != Darwin ] || how="brew install llvm"
    if [ "$(uname -s)" = Linux ] && can_install; then
        say "Installing libllvm19 ..."
        apt_install libllvm19 && can_render && return 0
    fi
    say "LLVM 19 or newer is missing. It is needed for rendering without a GPU: $how"
}

has_program() { command -v "$1" >/dev/null 2>&1; }

# The tests of the live page drive a real browser; the one without windows takes half the work.
add_browser() {
    has_program chromium-headless-shell && return 0
    if can_install; then
        say "Installing chromium-headless-shell ..."
        apt_install chromium-headless-shell && return 0
    fi
    has_program chromium || has_program chromium-browser && return 0
    if can_install; then
        say "Installing chromium ..."
        apt_install chromium || say "chromium could not be installed. The live page's tests need it."
    else
        say "chromium is missing. The live page's tests need it; on Debian:" \
            "sudo apt-get install chromium-headless-shell"
    fi
}

# uv needs a quarter of pip's time, but knows nothing of an index that pip was told to use. $1: what.
install_packages() {
    local pip=("$venv/bin/python" -m pip --disable-pip-version-check)
    if ! "${pip[@]}" config list 2>/dev/null | grep -qE '\.(index-url|no-index)=' &&
        "${pip[@]}" install --quiet --no-compile "uv>=0.5,<1" >/dev/null 2>&1 &&
        "$venv/bin/uv" pip install --quiet --python "$venv/bin/python" --editable "$1" >/dev/null 2>&1
    then return 0; fi
    quietly "${pip[@]}" install --no-compile --editable "$1"
}

# Makes or renews the environment. $1: 'run' or 'test'.
set_up() {
    mkdir -p "$venv"
    # Two at once would spoil each other's work: the second waits, and then finds all done.
    (
        if command -v flock >/dev/null 2>&1; then
            flock 9
            if ready test || { [ "$1" = run ] && ready run; }; then exit 0; fi
        fi
        make_environment "$1"
    ) 9>"$venv/.lock"
}

make_environment() {
    local what="$here"
    [ "$1" = run ] || what="${here}[test]"
    say "Setting up previz in $venv; the first time takes a few minutes ..."
    rm -f "$(stamp_of run)" "$(stamp_of test)"
    if ! new_enough "$venv/bin/python" || [ "$(cat "$venv/.made-in" 2>/dev/null)" != "$here" ] ||
        ! "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        choose_python
        "$python" -m venv --clear "$venv" || fail "The environment could not be made; see above."
        printf '%s\n' "$here" >"$venv/.made-in"
    fi
    # The system's packages come while Python's are installed.
    local browser=
    if [ "$1" != run ]; then
        add_browser &
        browser=$!
    fi
    install_packages "$what" ||
        fail "The packages could not be installed; see above. The same command tries again."
    # On all cores, which pip does not. Of ours too: half a second of every start, where Python is
    # told not to keep what it compiled. A package's own file may hold another Python's grammar.
    "$venv/bin/python" -m compileall -q -j 0 -x '/tests?/' "$venv/lib" "$here/previz" >/dev/null || true
    [ -z "$browser" ] || wait "$browser"
    add_libraries
    add_llvm
    wanted >"$(stamp_of "$1")"
}

[ -f "$here/pyproject.toml" ] || fail "$here holds no pyproject.toml; run .do from a checkout of previz."
export PYTHONNOUSERSITE=1
unset PYTHONHOME PYTHONPATH

case "${1-}" in
    "")
        usage
        exit 2
        ;;
    test | setup)
        command=$1
        shift
        ready test || set_up test
        [ "$command" = test ] || exit 0
        cd "$here"
        # Two at a time: most tests keep one core busy. `-n 0` runs them in one process. A process
        # that dies ends the run and is named; started anew, its share may never be handed on.
        exec "$venv/bin/python" -m pytest -n 2 --dist loadfile --max-worker-restart 0 "$@"
        ;;
    *)
        ready run test || set_up run
        exec "$venv/bin/previz" "$@"
        ;;
esac
