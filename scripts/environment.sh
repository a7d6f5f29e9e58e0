# Makes the virtual environment of this checkout; sourced by the other scripts.
# Needs nothing but Python 3.11 or later and pip. Sets ROOT and PYTHON.

ROOT="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
PYTHON="$ROOT/.venv/bin/python"
# As the command itself has it: threads of the arrays would cost more than they give.
export OPENBLAS_NUM_THREADS="${OPENBLAS_NUM_THREADS:-1}"

find_python() {
    local candidate
    for candidate in python3 python3.14 python3.13 python3.12 python3.11 python; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            echo "$candidate"
            return 0
        fi
    done
    echo "Python 3.11 or later was not found; install it and run this again." >&2
    return 1
}

# environment EXTRAS: make .venv, install the project with EXTRAS (such as [dev,outside]) into it.
# Nothing is fetched where that was done already for this pyproject.toml.
environment() {
    local extras="$1" stamp mark base
    mark="$ROOT/.venv/.installed"
    if ! "$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        base="$(find_python)" || return 1
        rm -rf "$ROOT/.venv"
        if ! "$base" -m venv "$ROOT/.venv" >/dev/null 2>&1; then
            # Some systems ship Python without ensurepip; then the pip outside installs into it.
            rm -rf "$ROOT/.venv"
            "$base" -m venv --without-pip "$ROOT/.venv"
        fi
    fi
    stamp="$extras $(cksum <"$ROOT/pyproject.toml") $ROOT"
    if [ -f "$mark" ] && grep -qxF "$stamp" "$mark"; then
        return 0
    fi
    echo "Installing into .venv (once) …" >&2
    if "$PYTHON" -m pip --version >/dev/null 2>&1; then
        "$PYTHON" -m pip install --quiet --disable-pip-version-check -e "$ROOT$extras"
    else
        "$(find_python)" -m pip --python "$PYTHON" install --quiet \
            --disable-pip-version-check -e "$ROOT$extras"
    fi || return 1
    echo "$stamp" >>"$mark"
}
