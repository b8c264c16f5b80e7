#!/usr/bin/env bash
# Builds the rules for phones: the crate `domain` as WebAssembly, to api/web/rules.wasm, from where the service
# takes it in when it is built. Does nothing if that file is newer than all of `domain`.
#
#   deploy/wasm.sh [FILE]
#
#   YARDJAR_WASM_FROM=debian deploy/wasm.sh    without asking rustup
#
# The compiler's WebAssembly part comes from rustup; where only Debian's packages can be had, from those, unpacked
# beside and never installed.
set -euo pipefail

say() { printf 'deploy/wasm.sh: %s\n' "$*" >&2; }

root=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"
out=${1:-api/web/rules.wasm}
target=${CARGO_TARGET_DIR:-target}
triple=wasm32-unknown-unknown
wanted=("$root"/Cargo.lock "$root"/Cargo.toml "$root"/domain/Cargo.toml "$root"/domain/src)

if [[ -f $out && -z $(find "${wanted[@]}" -newer "$out" -print -quit) ]]; then
    exit 0
fi

build() {
    cargo rustc --quiet --locked -p domain --lib --no-default-features --profile phone --target "$triple" --crate-type cdylib "$@"
}

from=${YARDJAR_WASM_FROM-rustup}
has_target() { [[ $from != debian ]] && rustc --print target-libdir --target "$triple" 2>/dev/null | xargs -r test -d; }

if ! has_target && [[ $from != debian ]] && command -v rustup >/dev/null; then
    say "adding $triple to the compiler"
    rustup target add "$triple" >/dev/null 2>&1 || say "rustup could not add it"
fi

say "building"
if has_target; then
    build
else
    # shellcheck source=deploy/wasm-debian.sh
    . deploy/wasm-debian.sh
    build -Zbuild-std=std,panic_abort
fi

mkdir -p "$(dirname -- "$out")"
# Written beside and renamed: a build that is cut off leaves no half file.
cp "$target/$triple/phone/domain.wasm" "$out.new"
mv "$out.new" "$out"
say "$out: $(stat -c %s "$out") bytes, $(gzip -9c "$out" | wc -c) compressed by gzip"
