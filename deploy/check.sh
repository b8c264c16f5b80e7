#!/usr/bin/env bash
# Everything a change must pass, in order, cheapest first where the order is free. Stops at the first failure
# and names it. CI runs this and tests/run, and nothing else.
#
#   deploy/check.sh
#   CHECK_SKIP_TESTS=1 deploy/check.sh     for whoever has just run tests/run
set -euo pipefail

cd -- "$(dirname -- "${BASH_SOURCE[0]}")/.."

step() {
    local name=$1 started=$SECONDS
    shift
    printf '== %s\n' "$name"
    if ! "$@"; then
        printf '== %s: FAILED after %d s\n' "$name" $((SECONDS - started)) >&2
        exit 1
    fi
    printf '== %s: ok, %d s\n' "$name" $((SECONDS - started))
}

documentation() {
    RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps --locked
}

licences() {
    python3 deploy/licences.py || return
    # Where it is installed it may say more; it costs five minutes to build, so nothing here installs it.
    if command -v cargo-deny >/dev/null; then
        cargo deny --locked check --hide-inclusion-graph licenses bans sources
    fi
}

unused_dependencies() {
    if ! command -v cargo-machete >/dev/null; then
        printf 'installing cargo-machete (about three minutes, once)\n'
        cargo install --quiet --locked cargo-machete || return
        # Where cargo puts programs need not be a place where the shell looks for them.
        PATH=${CARGO_INSTALL_ROOT:-${CARGO_HOME:-$HOME/.cargo}}/bin:$PATH
    fi
    cargo machete
}

started=$SECONDS
step "format" cargo fmt --all --check
# Alone, because a build of the whole workspace lends it features that it did not ask for.
step "domain alone" cargo check -p domain --locked
step "clippy" cargo clippy --workspace --all-targets --locked -- -D warnings
step "documentation" documentation
if [[ ${CHECK_SKIP_TESTS-} == 1 ]]; then
    printf '== tests: left out, as CHECK_SKIP_TESTS=1 says they have just been run\n'
else
    step "tests" tests/run
fi
step "licences" licences
step "unused dependencies" unused_dependencies
# Last: tests and builds write files that are committed, and must have written the same.
step "clean tree" git diff --exit-code
printf '== all ok, %d s\n' $((SECONDS - started))
