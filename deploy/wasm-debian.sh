# Read by deploy/wasm.sh: a compiler for WebAssembly out of Debian's packages, unpacked under the target folder.
# They are never installed, since they would push out a compiler that rustup manages.
# shellcheck shell=bash disable=SC2154

kit=$root/target/wasm-kit
if [[ ! -x $kit/rustc ]]; then
    say "fetching a compiler from Debian's packages"
    rm -rf "$kit" "$kit.new"
    mkdir -p "$kit.new/root" "$kit.new/deb"
    (
        cd "$kit.new/deb"
        apt-get -qq update
        needs() { apt-cache depends "$1" | sed -n "s/.*Depends: \\($2\\)\$/\\1/p" | head -n1; }
        std=$(needs libstd-rust-web-dev 'libstd-rust-web-[0-9.]*')
        llvm=$(needs "$std" 'libllvm[0-9]*')
        apt-get -qq download rustc-web "$std" libstd-rust-web-dev rust-web-src "$llvm" "lld-${llvm#libllvm}"
        for deb in *.deb; do dpkg -x "$deb" "$kit.new/root"; done
    )
    rm -rf "$kit.new/deb"
    mv "$kit.new" "$kit"
    libraries=$(find "$kit/root" -name 'librustc_driver*.so' -o -name 'libLLVM*.so*' | xargs -n1 dirname | sort -u | paste -sd:)
    compiler=$kit/root/usr/bin/rustc
    cat >"$kit/rustc" <<WRAPPER
#!/bin/sh
LD_LIBRARY_PATH=$libraries\${LD_LIBRARY_PATH:+:\$LD_LIBRARY_PATH} exec $compiler "\$@"
WRAPPER
    chmod +x "$kit/rustc"
fi
RUSTC=$kit/rustc
RUSTC_BOOTSTRAP=1
linker=$(find "$kit/root" -name 'wasm-ld*' \( -type f -o -type l \) | head -n1)
CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=$linker
export RUSTC RUSTC_BOOTSTRAP CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER
