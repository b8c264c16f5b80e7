#!/usr/bin/env bash
# Builds what phones run as WebAssembly, to api/web, from where the service takes it in when it is built:
#   rules.wasm   the crate `domain`: decides and folds; the first screen waits for it
#   reckon.wasm  the crate `domain`: computations and planners; comes later
#   scan.wasm    the crate `scan`: codes in a picture; comes when somebody scans
# Each is built only if its crate is newer.
#
#   deploy/wasm.sh [FOLDER]
#
#   YARDJAR_WASM_FROM=debian deploy/wasm.sh    without asking rustup
#
# Rust's own library is built along, small and without the texts of panics, which a phone has nobody to show to; its
# source comes from rustup. Where only Debian's packages can be had, from those, unpacked beside and never installed.
set -euo pipefail

say() { printf 'deploy/wasm.sh: %s\n' "$*" >&2; }

root=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"
folder=${1:-api/web}
target=${CARGO_TARGET_DIR:-target}
triple=wasm32-unknown-unknown

old=()
for one in "scan default scan.wasm" "domain reckon reckon.wasm" "domain house rules.wasm"; do
    read -r crate _ file <<<"$one"
    parts=(Cargo.lock Cargo.toml "$crate"/Cargo.toml "$crate"/src)
    [[ ! -d $crate/derive ]] || parts+=("$crate"/derive)
    if [[ ! -f $folder/$file || -n $(find "${parts[@]}" -newer "$folder/$file" -print -quit) ]]; then
        old+=("$one")
    fi
done
[[ ${#old[@]} -gt 0 ]] || exit 0

from=${YARDJAR_WASM_FROM-rustup}
has_source() { [[ -e $(rustc --print sysroot)/lib/rustlib/src/rust/library/Cargo.lock ]]; }

if [[ $from != debian ]] && ! has_source && command -v rustup >/dev/null; then
    say "adding the library's source to the compiler"
    rustup component add rust-src >/dev/null 2>&1 || say "rustup could not add it"
fi
if [[ $from == debian ]] || ! has_source; then
    # shellcheck source=deploy/wasm-debian.sh
    . deploy/wasm-debian.sh
fi

# The library is built with the compiler's own permission for it; everything else is plain, stable Rust.
export RUSTC_BOOTSTRAP=1
export CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_RUSTFLAGS="-Zunstable-options -Cpanic=immediate-abort"
mkdir -p "$folder"
for one in "${old[@]}"; do
    read -r crate feature file <<<"$one"
    say "building $file"
    features=(--no-default-features --features "$feature")
    [[ $feature != default ]] || features=()
    cargo rustc --quiet --locked -p "$crate" --lib "${features[@]}" --profile phone --target "$triple" \
        --crate-type cdylib -Zbuild-std=std,panic_abort -Zbuild-std-features=optimize_for_size
    # Written beside and renamed: a build that is cut off leaves no half file.
    cp "$target/$triple/phone/$crate.wasm" "$folder/$file.new"
    mv "$folder/$file.new" "$folder/$file"
    say "$file: $(stat -c %s "$folder/$file") bytes, $(gzip -9c "$folder/$file" | wc -c) compressed by gzip"
done
