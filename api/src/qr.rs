//! QR codes as rows of dark and light, and as text for a terminal.

use fast_qr::{ECL, QRBuilder};

/// How much is light around a code, in modules (ISO/IEC 18004 asks for four).
const QUIET: usize = 4;

/// A QR code: each row as a text of `1` (dark) and `0`, without the quiet zone. Nothing if the text is too long.
#[must_use]
pub fn rows(text: &str) -> Option<Vec<String>> {
    let code = QRBuilder::new(text).ecl(ECL::M).build().ok()?;
    let row = |y: usize| {
        (0..code.size)
            .map(|x| if code[y][x].value() { '1' } else { '0' })
            .collect()
    };
    Some((0..code.size).map(row).collect())
}

/// The same for a terminal, two rows in a line, light on dark or dark on light.
#[must_use]
pub fn for_terminal(text: &str) -> Option<String> {
    let rows = rows(text)?;
    let size = rows.len() + 2 * QUIET;
    let dark = |x: usize, y: usize| {
        let cell = y.checked_sub(QUIET).and_then(|y| rows.get(y)).zip(x.checked_sub(QUIET));
        cell.is_some_and(|(row, x)| row.as_bytes().get(x) == Some(&b'1'))
    };
    // Light is printed and dark left out, in reverse video: black on white whatever the terminal's colours are.
    let mut out = String::new();
    for y in (0..size).step_by(2) {
        out.push_str("\u{1b}[30;47m");
        for x in 0..size {
            out.push(match (dark(x, y), dark(x, y + 1)) {
                (true, true) => '\u{2588}',
                (true, false) => '\u{2580}',
                (false, true) => '\u{2584}',
                (false, false) => ' ',
            });
        }
        out.push_str("\u{1b}[0m\n");
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_shows_the_same_modules_with_four_light_ones_around() {
        let (rows, shown) = (
            rows("http://192.168.1.20:8470/").unwrap(),
            for_terminal("http://192.168.1.20:8470/").unwrap(),
        );
        let lines: Vec<&str> = shown
            .lines()
            .filter_map(|line| line.strip_prefix("\u{1b}[30;47m")?.strip_suffix("\u{1b}[0m"))
            .collect();
        let dark = |x: usize, y: usize| {
            let cell = lines[y / 2].chars().nth(x).unwrap();
            cell == '\u{2588}' || cell == if y.is_multiple_of(2) { '\u{2580}' } else { '\u{2584}' }
        };
        for y in 0..rows.len() + 2 * QUIET {
            for x in 0..rows.len() + 2 * QUIET {
                let inside = y >= QUIET && x >= QUIET && y - QUIET < rows.len() && x - QUIET < rows.len();
                let expected = inside && rows[y - QUIET].as_bytes()[x - QUIET] == b'1';
                assert_eq!(dark(x, y), expected, "{x} {y}");
            }
        }
    }
}
