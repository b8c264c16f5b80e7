//! Builds anew when a file of the app comes or goes: what is taken in from a folder is not seen by the compiler.
#![allow(clippy::print_stdout, reason = "this is how a build script speaks")]

fn main() {
    println!("cargo:rerun-if-changed=web");
}
