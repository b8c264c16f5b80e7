//! Reads QR codes off a grey picture. Built as WebAssembly it is the scanner of phones whose browser has none.
//!
//! Not here: the camera, and what a code means.

#[cfg(target_arch = "wasm32")]
mod wasm;

/// The text of the first code that reads in a picture of `width` columns, a byte a pixel, row by row.
#[must_use]
pub fn read(width: usize, grey: &[u8]) -> Option<String> {
    let height = grey.len().checked_div(width)?;
    let at = |x: usize, y: usize| grey.get(y * width + x).copied().unwrap_or(u8::MAX);
    let mut picture = rqrr::PreparedImage::prepare_from_greyscale(width, height, at);
    let codes = picture.detect_grids();
    codes.iter().find_map(|code| code.decode().ok()).map(|(_, text)| text)
}

#[cfg(test)]
mod tests {
    use super::read;

    /// A code of version 1 for "041", drawn by another program: segno 1.6.6, error correction M.
    const CODE: &str = include_str!("../tests/041.txt");

    fn picture(scale: usize, quiet: usize) -> (usize, Vec<u8>) {
        let rows: Vec<&str> = CODE.lines().collect();
        let side = (rows.len() + 2 * quiet) * scale;
        let dark = |x: usize, y: usize| {
            let at = |n: usize| (n / scale).checked_sub(quiet);
            let cell = at(y).and_then(|y| rows.get(y)).zip(at(x));
            cell.is_some_and(|(row, x)| row.as_bytes().get(x) == Some(&b'#'))
        };
        let pixels = (0..side * side).map(|n| if dark(n % side, n / side) { 30 } else { 220 });
        (side, pixels.collect())
    }

    #[test]
    fn a_code_of_another_program_reads_small_and_large() {
        for scale in [3, 8] {
            let (width, grey) = picture(scale, 4);
            assert_eq!(read(width, &grey).as_deref(), Some("041"), "{scale} pixels a cell");
        }
    }

    #[test]
    fn no_code_no_picture_and_half_a_row_are_nothing() {
        assert_eq!(read(0, &[]), None);
        assert_eq!(read(64, &[200; 64 * 64]), None);
        assert_eq!(read(7, &[0; 30]), None);
    }
}
