#!/bin/sh
# Makes the isolated environment .venv from the lock files: tools/environment.sh run|test
#
# "run" has what carwright needs, "test" has that and what tests and checks need. A finished environment carries a
# stamp named after everything it was made from, written last; without a matching stamp it is made anew.
set -eu

unset CDPATH PYTHONHOME PYTHONPATH
cd -- "$(dirname -- "$0")/.."

what=${1:-}
case $what in
    run) need_mb=1024 ;;
    test) need_mb=2048 ;;
    *) echo "usage: tools/environment.sh run|test" >&2; exit 2 ;;
esac

say() { printf 'carwright: %s\n' "$*" >&2; }

# For what the system lacks; what else stops this is only said.
give_up() {
    say "$1"
    cat >&2 <<'END'

What carwright needs from the system is installed, on Debian and Ubuntu, as root with:

    apt-get install -y git make python3 python3-venv

END
    exit 1
}

# --- Python -----------------------------------------------------------------------------------------------------

# Whether $1 can make the environment; otherwise $reason says why not.
suits() {
    if ! command -v "$1" >/dev/null 2>&1; then
        reason="$1 is not there"
        return 1
    fi
    if answer=$("$1" -c '
import sys
version = "Python %d.%d" % sys.version_info[:2]
if sys.version_info < (3, 11):
    print(version + ", and 3.11 or newer is needed")
    sys.exit(3)
try:
    import ensurepip, venv
except ImportError as error:
    print(version + " without the part that makes virtual environments (%s)" % error)
    sys.exit(3)
' 2>/dev/null); then
        return 0
    elif [ -n "$answer" ]; then
        reason="$1 is $answer"
    else
        reason="$1 does not start"
    fi
    return 1
}

python=
reasons=
if [ -n "${PYTHON:-}" ]; then
    # An explicit wish is met or refused, never replaced in silence.
    if suits "$PYTHON"; then python=$PYTHON; else give_up "PYTHON was set, but $reason."; fi
else
    for candidate in python3.13 python3.12 python3.11 python3; do
        if suits "$candidate"; then
            python=$candidate
            break
        fi
        # Say nothing of versions that are simply not installed, nor of launchers for them.
        case $reason in
            *" is not there" | *" does not start") [ "$candidate" = python3 ] || continue ;;
        esac
        # python3 is mostly one of the others by its second name.
        case $reasons in
            *"${reason#* is }"*) ;;
            *) reasons="$reasons${reasons:+; }$reason" ;;
        esac
    done
    [ -n "$python" ] || give_up "no usable Python 3.11 or newer: $reasons."
fi

# --- One at a time ----------------------------------------------------------------------------------------------

# The lock is held on this file until this process and all it started have ended, so it is never left behind.
exec 9<tools/environment.sh
"$python" -c '
import fcntl, sys
try:
    fcntl.flock(9, fcntl.LOCK_EX | fcntl.LOCK_NB)
except BlockingIOError:
    print("carwright: waiting for another make that sets up .venv", file=sys.stderr, flush=True)
    fcntl.flock(9, fcntl.LOCK_EX)
'

# --- Is it there already? ---------------------------------------------------------------------------------------

# A virtual environment works in one place and with one Python only, so these are part of its stamp.
fingerprint() {
    "$python" -c '
import hashlib, os, sys
digest = hashlib.sha256(repr((sys.version, sys.base_prefix, os.getcwd())).encode())
for name in sys.argv[1:]:
    with open(name, "rb") as file:
        digest.update(hashlib.sha256(file.read()).digest())
print(digest.hexdigest()[:16])
' pyproject.toml "$@"
}

run_print=$(fingerprint requirements.lock)
test_print=$(fingerprint requirements.lock requirements-test.lock requirements-source.lock)
run_stamp=.venv/.run-$run_print
test_stamp=.venv/.test-$test_print

run_made=no
test_made=no
if .venv/bin/python -c '' 2>/dev/null; then
    if [ -f "$run_stamp" ]; then run_made=yes; fi
    for stamp in .venv/.test-*; do
        if [ "$stamp" = "$test_stamp" ]; then
            test_made=yes
        elif [ -e "$stamp" ] && [ "$what" = test ]; then
            # What an older test lock installed is not wanted beside the new.
            run_made=no
        fi
    done
fi
if [ "$run_made" = yes ] && { [ "$what" = run ] || [ "$test_made" = yes ]; }; then
    exit 0
fi

# --- Room -------------------------------------------------------------------------------------------------------

if [ ! -w . ]; then
    say "the environment goes into this folder, where you may not write: $(pwd)"
    exit 1
fi
if [ "$run_made" = no ] && ! rm -rf .venv; then
    say "the old .venv cannot be removed; whoever made it can remove it."
    exit 1
fi
free_mb=$("$python" -c 'import shutil; print(shutil.disk_usage(".").free >> 20)')
if [ "$free_mb" -lt "$need_mb" ]; then
    give_up "too little free space in this folder: $free_mb MB, and $need_mb MB are needed."
fi

# --- Making it --------------------------------------------------------------------------------------------------

half_made=no
child=

finish() {
    status=$?
    trap '' INT TERM HUP
    trap - EXIT
    if [ -n "$child" ]; then
        kill "$child" 2>/dev/null || true
        wait "$child" 2>/dev/null || true
    fi
    if [ "$half_made" = yes ]; then
        # A process that pip started may still write for a moment.
        rm -rf .venv 2>/dev/null || { sleep 2; rm -rf .venv; }
        say "the environment was not finished; .venv was removed. Running make again starts anew."
    fi
    exit "$status"
}
trap finish EXIT
trap 'exit 129' HUP
trap 'exit 130' INT
trap 'exit 143' TERM

# Runs a command that is heard only when it fails; in the background, so that a signal is answered at once.
quietly() {
    "$@" >.venv/.log 2>&1 9<&9 &
    child=$!
    outcome=0
    wait "$child" || outcome=$?
    child=
    if [ "$outcome" -ne 0 ]; then
        cat .venv/.log >&2
        say "this failed: $*"
        exit 1
    fi
}

# Hashed wheels only: nothing is built except carwright itself, and that with the locked build backend. What tests need
# and is published as source alone is built by itself, hashed too, with the locked setuptools.
install() {
    quietly .venv/bin/python -m pip install --disable-pip-version-check --no-input --progress-bar off \
        --require-hashes --only-binary :all: -r "$1"
    if [ "$run_made" = no ]; then
        quietly .venv/bin/python -m pip install --disable-pip-version-check --no-input --progress-bar off \
            --no-build-isolation --no-deps --editable .
    fi
    quietly .venv/bin/python -m pip --disable-pip-version-check check
}

half_made=yes
mkdir -p .venv/.tmp
# pip's own temporary files go where they are removed with the rest.
TMPDIR=$(pwd)/.venv/.tmp
export TMPDIR

if [ "$run_made" = no ]; then
    say "making the environment .venv from requirements.lock (once)"
    quietly "$python" -m venv .venv
    install requirements.lock
    : >"$run_stamp"
    run_made=yes
fi
if [ "$what" = test ]; then
    say "adding what tests need from requirements-test.lock (once)"
    install requirements-test.lock
    quietly .venv/bin/python -m pip install --disable-pip-version-check --no-input --progress-bar off \
        --require-hashes --no-binary :all: --no-build-isolation --no-deps -r requirements-source.lock
    rm -rf .venv/.tmp .venv/.log
    : >"$test_stamp"
fi
rm -rf .venv/.tmp .venv/.log
half_made=no
