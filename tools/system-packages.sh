#!/bin/sh
# Installs the Debian packages that some tests need, when it may; otherwise says what is skipped.
# With CI=true a skip is a failure. Tests look for $CARWRIGHT_CHROMIUM, then for /usr/bin/chromium.
set -eu

say() { printf 'carwright: %s\n' "$*" >&2; }

chromium=${CARWRIGHT_CHROMIUM:-/usr/bin/chromium}

is_missing() {
    case $1 in
        chromium) [ ! -x "$chromium" ] ;;
        # Elsewhere than on Debian these have other names, and what is there has to do.
        *) command -v dpkg-query >/dev/null 2>&1 &&
            ! dpkg-query -W -f '${Status}' "$1" 2>/dev/null | grep -q ' installed$' ;;
    esac
}

# The browser, letters for it, a library that the program driving it needs, what draws the pages of a PDF, and the
# database a club shares.
missing=
for package in chromium fonts-dejavu-core libatomic1 poppler-utils postgresql; do
    if is_missing "$package"; then missing="$missing $package"; fi
done
[ -n "$missing" ] || exit 0

skip() {
    say "not installed:$missing ($1)"
    case $missing in
        *chromium*)
            say "skipped therefore: the tests that open a report in a browser ($chromium is not there)"
            ;;
        *libatomic1*)
            say "skipped therefore: the tests that open a report in a browser (what drives it does not start)"
            ;;
        *poppler-utils*)
            say "skipped therefore: the tests that draw the pages of a PDF and look at them"
            ;;
        *postgresql*)
            say "skipped therefore: the tests of a shop in PostgreSQL"
            ;;
        *)
            say "no test is skipped for that, but reports opened in a browser are drawn with other fonts"
            ;;
    esac
    if [ "${CI:-}" = true ]; then
        say "CI=true: a skip is a failure"
        exit 1
    fi
    exit 0
}

if [ -n "${CARWRIGHT_CHROMIUM:-}" ] && is_missing chromium; then
    skip "CARWRIGHT_CHROMIUM names no program"
fi
command -v apt-get >/dev/null 2>&1 || skip "this system has no apt-get"
if [ "$(id -u)" -eq 0 ]; then
    as_root() { env "$@"; }
elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
    as_root() { sudo -n env "$@"; }
else
    skip "that takes root, or sudo without a password"
fi

log=$(mktemp)
trap 'rm -f "$log"' EXIT
trap 'exit 129' HUP
trap 'exit 130' INT
trap 'exit 143' TERM

apt() { as_root DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 "$@" </dev/null >>"$log" 2>&1; }

say "installing system packages:$missing (once)"
# A list that cannot be fetched need not matter: the install decides.
apt update || true
# shellcheck disable=SC2086 # one word for each package
if ! apt install -y --no-install-recommends $missing; then
    tail -n 20 "$log" >&2
    skip "apt-get could not install them"
fi
for package in $missing; do
    if is_missing "$package"; then skip "apt-get installed $package, but not where it was looked for"; fi
done
