#!/usr/bin/env bash
# Builds what phones run: the crate `domain` as WebAssembly, to api/web/rules.wasm, and `scan`, to api/web/scan.wasm, from
# where the service takes them in when it is built. Does nothing for a file that is newer than all of its crate.
#
#   deploy/wasm.sh [FILE]     with a file: only the rules, there
#
#   YARDJAR_WASM_FROM=debian deploy/wasm.sh    without asking rustup
#
# The compiler's WebAssembly part comes from rustup; where only Debian's packages can be had, from those, unpacked
# beside and never installed.
set -euo pipefail

say() { printf 'deploy/wasm.sh: %s\n' "$*" >&2; }

root=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"
target=${CARGO_TARGET_DIR:-target}
triple=wasm32-unknown-unknown
wanted=("domain ${1:-api/web/rules.wasm}")
[[ $# -gt 0 ]] || wanted+=("scan api/web/scan.wasm")

old=()
for one in "${wanted[@]}"; do
    read -r crate out <<<"$one"
    if [[ ! -f $out || -n $(find Cargo.lock Cargo.toml "$crate"/Cargo.toml "$crate"/src -newer "$out" -print -quit) ]]; then
        old+=("$one")
    fi
done
[[ ${#old[@]} -gt 0 ]] || exit 0

build() {
    cargo rustc --quiet --locked -p "$crate" --lib --no-default-features --profile phone --target "$triple" --crate-type cdylib "$@"
}

from=${YARDJAR_WASM_FROM-rustup}
has_target() { [[ $from != debian ]] && rustc --print target-libdir --target "$triple" 2>/dev/null | xargs -r test -d; }

if ! has_target && [[ $from != debian ]] && command -v rustup >/dev/null; then
    say "adding $triple to the compiler"
    rustup target add "$triple" >/dev/null 2>&1 || say "rustup could not add it"
fi

std=()
if ! has_target; then
    # shellcheck source=deploy/wasm-debian.sh
    . deploy/wasm-debian.sh
    std=(-Zbuild-std=std,panic_abort)
fi

for one in "${old[@]}"; do
    read -r crate out <<<"$one"
    say "building $crate"
    build "${std[@]}"
    mkdir -p "$(dirname -- "$out")"
    # Written beside and renamed: a build that is cut off leaves no half file.
    cp "$target/$triple/phone/$crate.wasm" "$out.new"
    mv "$out.new" "$out"
    say "$out: $(stat -c %s "$out") bytes, $(gzip -9c "$out" | wc -c) compressed by gzip"
done
