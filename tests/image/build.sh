#!/usr/bin/env bash
# Makes sure that the container engine has an image of PostgreSQL 15 and prints its name: the official one if
# it is there or can be pulled, otherwise one of our own, built from Debian packages. Needs a running engine.
#
#   tests/image/build.sh           the first that can be had
#   tests/image/build.sh own       our own in any case
#
# Files made on the way lie in target/test-image and may be deleted.
set -euo pipefail

say() { printf 'tests/image: %s\n' "$*" >&2; }
fail() { say "$*"; exit 1; }

readonly official=postgres:15 own=yardjar-test-postgres:15
here=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")" && pwd)
root=$(cd -- "$here/../.." && pwd)

# A registry that answers gets the time a download takes; one that does not answer gets ten seconds.
pull_official() {
    local log pid=0 waited=0
    docker image inspect "$official" >/dev/null 2>&1 && return 0
    say "asking the registry for $official"
    log=$(mktemp)
    timeout 600 docker pull "$official" >"$log" 2>&1 &
    pid=$!
    while kill -0 "$pid" 2>/dev/null && [[ $waited -lt 100 ]] && ! grep -qi 'pulling from' "$log"; do
        sleep 0.1
        waited=$((waited + 1))
    done
    if ! grep -qi 'pulling from' "$log"; then
        kill "$pid" 2>/dev/null || true
    fi
    if wait "$pid"; then
        rm -f "$log"
        return 0
    fi
    say "cannot be had: $(tail -n 1 "$log")"
    rm -f "$log"
    return 1
}

need_mmdebstrap() {
    command -v mmdebstrap >/dev/null && return 0
    if [[ $(id -u) -ne 0 ]] || ! command -v apt-get >/dev/null; then
        fail "mmdebstrap is missing; install it, or put the image $official into the engine, and run again"
    fi
    say "installing mmdebstrap"
    export DEBIAN_FRONTEND=noninteractive
    if ! { apt-get -qq update && apt-get -qq install -y --no-install-recommends mmdebstrap; } </dev/null >/dev/null; then
        fail "could not install mmdebstrap, see above"
    fi
}

# The tree holds the server and nothing to build, read or translate with; the just-in-time compiler alone
# would be two thirds of it.
make_tree() {
    local tar=$1 mode=root
    [[ $(id -u) -eq 0 ]] || mode=auto
    # shellcheck disable=SC2016  # "$1" is the new tree, known to mmdebstrap only
    mmdebstrap --quiet --format=tar --variant=essential --mode="$mode" --include=postgresql-15 \
        --aptopt='APT::Install-Recommends "false"' \
        --dpkgopt='path-exclude=/usr/share/man/*' --dpkgopt='path-exclude=/usr/share/doc/*' \
        --dpkgopt='path-include=/usr/share/doc/*/copyright' --dpkgopt='path-exclude=/usr/share/locale/*' \
        --dpkgopt='path-exclude=/usr/share/i18n/*' --dpkgopt='path-exclude=/usr/lib/*/libLLVM*' \
        --dpkgopt='path-exclude=/usr/lib/*/libz3*' \
        --dpkgopt='path-exclude=/usr/lib/postgresql/15/lib/bitcode/*' \
        --dpkgopt='path-exclude=/usr/lib/postgresql/15/lib/llvmjit*' \
        --customize-hook='rm -rf "$1"/var/lib/postgresql/15/main "$1"/etc/postgresql/15/main' \
        --customize-hook='rm -rf "$1"/usr/share/perl "$1"/usr/share/perl5 "$1"/usr/lib/*/perl "$1"/usr/lib/*/libperl.so*' \
        --customize-hook='chroot "$1" install -d -m 1777 -o postgres -g postgres /var/lib/postgresql/data' \
        bookworm "$tar.new"
    mv -- "$tar.new" "$tar"
}

build_own() {
    local inputs context=$root/target/test-image started=$SECONDS
    # An image that was made from other files than these is not the one that is meant.
    inputs=$(cat "$here/build.sh" "$here/Dockerfile" "$here/entrypoint.sh" | sha256sum | cut -c1-16)
    if [[ $(docker image inspect -f '{{index .Config.Labels "yardjar.inputs"}}' "$own" 2>/dev/null) == "$inputs" ]]; then
        return 0
    fi
    mkdir -p "$context"
    if [[ ! -s $context/pg15.tar || $here/build.sh -nt $context/pg15.tar ]]; then
        need_mmdebstrap
        say "building a PostgreSQL 15 from Debian packages (about a minute, once)"
        make_tree "$context/pg15.tar" || fail "could not build the tree, see above"
    fi
    install -m 755 "$here/entrypoint.sh" "$context/entrypoint.sh"
    if ! docker build --label "yardjar.inputs=$inputs" -t "$own" -f "$here/Dockerfile" "$context" \
        >"$context/build.log" 2>&1; then
        tail -n 20 "$context/build.log" >&2
        fail "docker could not build $own, see above"
    fi
    say "$own built in $((SECONDS - started)) s"
}

if [[ ${1-} != own ]] && pull_official; then
    printf '%s\n' "$official"
else
    build_own
    printf '%s\n' "$own"
fi
