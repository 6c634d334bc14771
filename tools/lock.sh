#!/bin/sh
# Rewrites requirements.lock, requirements-test.lock and requirements-source.lock from the .in files: tools/lock.sh [--upgrade]
# Pins that still fit are kept, unless --upgrade asks for the newest releases. The resolver lives in a
# temporary environment, as only whoever changes a dependency needs it.
set -eu

unset CDPATH
cd -- "$(dirname -- "$0")/.."

case ${1:-} in
    '' | --upgrade) ;;
    *) echo "usage: tools/lock.sh [--upgrade]" >&2; exit 2 ;;
esac

place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
trap 'exit 130' INT
trap 'exit 143' TERM

"${PYTHON:-python3}" -m venv "$place/venv"
"$place/venv/bin/python" -m pip install --quiet --disable-pip-version-check uv

# Extras stay in the locks: without them pip looks for the newest release of coverage[toml], which no hash pins.
resolve() {
    "$place/venv/bin/uv" pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-strip-extras \
        --custom-compile-command 'make lock' "$@"
}

resolve "$@" --output-file requirements.lock requirements.in
# The run lock constrains the test lock: tests see the same releases that users get.
resolve "$@" --constraint requirements.lock --output-file requirements-test.lock requirements-test.in
resolve "$@" --output-file requirements-source.lock requirements-source.in
