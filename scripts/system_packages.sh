#!/usr/bin/env bash
# The two programs that some tests drive and that no Python package brings:
# Chromium, and PostgreSQL where REHANG_REQUIRE asks for it.
# On Debian and Ubuntu, as root, they are installed when missing. Elsewhere this says what is
# missing and how those tests then behave. REHANG_NO_APT=1 leaves the system alone.
set -euo pipefail

required=",${REHANG_REQUIRE:-},"
missing=()
# Where the system has it, the browser without a window: it starts in less and draws the same.
drawn_by_the_shell() {
    if apt-cache show chromium-headless-shell >/dev/null 2>&1; then
        missing=("${missing[@]/#chromium/chromium-headless-shell}")
    fi
}
find_chromium() {
    command -v chromium-headless-shell || command -v chromium || command -v chromium-browser ||
        command -v google-chrome
}
find_chromium >/dev/null || missing+=(chromium)
if [[ $required == *,postgres,* ]] && ! compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null &&
    ! command -v initdb >/dev/null; then
    missing+=(postgresql)
fi
[ ${#missing[@]} -gt 0 ] || exit 0

if [ -z "${REHANG_NO_APT:-}" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    echo "Installing ${missing[*]} for the tests ..."
    log=$(mktemp)
    if apt-get update -qq >"$log" 2>&1 && drawn_by_the_shell &&
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
            "${missing[@]}" >>"$log" 2>&1; then
        rm -f "$log"
        exit 0
    fi
    tail -n 15 "$log" >&2
    rm -f "$log"
fi
echo "Not on this machine: ${missing[*]}. Tests that need them are skipped, or fail where REHANG_REQUIRE names them." >&2
