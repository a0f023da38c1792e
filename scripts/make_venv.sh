#!/usr/bin/env bash
# Make a virtual environment from hash-locked requirements: make_venv.sh VENV LOCK...
set -euo pipefail

venv=$1
shift
cd "$(dirname "$0")/.."

python=
for candidate in python3.11 python3.12 python3.13 python3.14 python3; do
    if command -v "$candidate" >/dev/null &&
        "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        python=$candidate
        break
    fi
done
if [ -z "$python" ]; then
    echo "Rehang needs Python 3.11 or later, and none is on the PATH. Install it and run make again." >&2
    exit 1
fi

# A half-made environment, or one of another Python, is made anew.
if ! "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
    rm -rf "$venv"
    "$python" -m venv "$venv"
fi

locks=()
for lock in "$@"; do
    locks+=(-r "$lock")
done
echo "Installing from ${*} ..."
PIP_DISABLE_PIP_VERSION_CHECK=1 "$venv/bin/python" -m pip install -qq --no-input \
    --require-hashes --only-binary :all: "${locks[@]}"
# Our own package: the build backend came from the lock, so nothing else is downloaded.
PIP_DISABLE_PIP_VERSION_CHECK=1 "$venv/bin/python" -m pip install -qq --no-input \
    --no-deps --no-build-isolation --no-index -e .
echo "Ready: $venv"
