//! Where labels lie on a sheet, in tenths of a millimetre by the user, and whether that works out.

use serde::Deserialize;
use utoipa::ToSchema;

use super::LabelsRefused;

/// The paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    A4,
    /// 8.5 by 11 inches (ANSI/ASME Y14.1, size A).
    Letter,
}

impl Paper {
    /// Width and height in tenths of a millimetre.
    #[must_use]
    pub fn size(self) -> (i32, i32) {
        match self {
            Self::A4 => (2100, 2970),
            Self::Letter => (2159, 2794),
        }
    }
}

/// A sheet of labels. All lengths in tenths of a millimetre.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// The paper.
    pub paper: Paper,
    /// How many labels lie beside each other.
    #[schema(minimum = 1, maximum = 20)]
    pub columns: i32,
    /// How many lie below each other.
    #[schema(minimum = 1, maximum = 40)]
    pub rows: i32,
    /// How wide a label is.
    pub width: i32,
    /// How high it is.
    pub height: i32,
    /// From the paper's left edge to the first label.
    pub left: i32,
    /// From the paper's upper edge to the first label.
    pub top: i32,
    /// From the left edge of a label to that of the next.
    pub across: i32,
    /// From the upper edge of a label to that of the next.
    pub down: i32,
    /// What stays free inside each label.
    pub margin: i32,
    /// The first label that is still on the sheet, counted along the rows from 1.
    #[serde(default = "first")]
    #[schema(minimum = 1, default = 1)]
    pub first: i32,
    /// How far the printer puts everything too far to the left; negative if to the right.
    #[serde(default)]
    pub drift_x: i32,
    /// How far the printer puts everything too high; negative if too low.
    #[serde(default)]
    pub drift_y: i32,
    /// Draw the edges of the labels, to see on plain paper whether they fit.
    #[serde(default)]
    pub outlines: bool,
}

fn first() -> i32 {
    1
}

/// How far off a printer may be.
const DRIFT_MOST: i32 = 200;

fn wrong(field: &'static str, says: String) -> LabelsRefused {
    LabelsRefused::Sheet { field, says }
}

/// Tenths as a person writes them.
fn mm(tenths: i32) -> String {
    format!("{}.{} mm", tenths / 10, (tenths % 10).abs())
}

impl Sheet {
    pub(super) fn check(&self) -> Result<(), LabelsRefused> {
        let (wide, high) = self.paper.size();
        for (field, value, from, to) in [
            ("columns", self.columns, 1, 20),
            ("rows", self.rows, 1, 40),
            ("first", self.first, 1, self.columns.saturating_mul(self.rows)),
            ("drift_x", self.drift_x, -DRIFT_MOST, DRIFT_MOST),
            ("drift_y", self.drift_y, -DRIFT_MOST, DRIFT_MOST),
        ] {
            if !(from..=to).contains(&value) {
                return Err(wrong(field, format!("{value} is not from {from} to {to}")));
            }
        }
        for (field, value, to) in [
            ("width", self.width, wide),
            ("height", self.height, high),
            ("left", self.left, wide),
            ("top", self.top, high),
            ("across", self.across, wide),
            ("down", self.down, high),
            ("margin", self.margin, self.width.min(self.height) / 2),
        ] {
            let least = i32::from(field == "width" || field == "height");
            if !(least..=to).contains(&value) {
                return Err(wrong(
                    field,
                    format!("{} is not from {} to {}", mm(value), mm(least), mm(to)),
                ));
            }
        }
        for (field, many, step, size) in [
            ("across", self.columns, self.across, self.width),
            ("down", self.rows, self.down, self.height),
        ] {
            if many > 1 && step < size {
                return Err(wrong(
                    field,
                    format!("labels of {} every {} lie upon each other", mm(size), mm(step)),
                ));
            }
        }
        for (field, start, many, step, size, paper) in [
            ("columns", self.left, self.columns, self.across, self.width, wide),
            ("rows", self.top, self.rows, self.down, self.height, high),
        ] {
            let end = start + (many - 1) * step + size;
            if end > paper {
                let says = format!("the last label ends at {}, the paper at {}", mm(end), mm(paper));
                return Err(wrong(field, says));
            }
        }
        Ok(())
    }

    /// How many labels a whole sheet has.
    pub(super) fn each(&self) -> i32 {
        self.columns * self.rows
    }

    /// On which page a label lies, and where its upper left corner is; `at` counts from 0, and the first page begins with
    /// the first label that is still free.
    pub(super) fn place(&self, at: usize) -> (usize, i32, i32) {
        let place = at + usize::try_from(self.first - 1).unwrap_or(0);
        let each = usize::try_from(self.each()).unwrap_or(1);
        let on_page = i32::try_from(place % each).unwrap_or(0);
        let (column, row) = (on_page % self.columns, on_page / self.columns);
        let x = self.left + column * self.across + self.drift_x;
        let y = self.top + row * self.down + self.drift_y;
        (place / each, x, y)
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Three by eight labels of 70 by 37 mm, which many sheets on A4 have.
    pub(crate) fn three_by_eight() -> Sheet {
        Sheet {
            paper: Paper::A4,
            columns: 3,
            rows: 8,
            width: 700,
            height: 370,
            left: 0,
            top: 5,
            across: 700,
            down: 370,
            margin: 30,
            first: 1,
            drift_x: 0,
            drift_y: 0,
            outlines: false,
        }
    }

    #[test]
    fn labels_go_along_the_rows_and_begin_where_the_sheet_is_still_whole() {
        let mut sheet = three_by_eight();
        assert_eq!(sheet.check(), Ok(()));
        assert_eq!(sheet.place(0), (0, 0, 5));
        assert_eq!(sheet.place(4), (0, 700, 375));
        assert_eq!(sheet.place(24), (1, 0, 5));
        sheet.first = 24;
        sheet.drift_x = -4;
        assert_eq!(sheet.place(0), (0, 1396, 5 + 7 * 370));
        assert_eq!(sheet.place(1), (1, -4, 5));
    }

    #[test]
    fn what_lies_upon_each_other_or_off_the_paper_is_refused_by_field() {
        type Change = fn(&mut Sheet);
        let wrong: [(&str, Change); 7] = [
            ("across", |sheet| sheet.across = 699),
            ("down", |sheet| sheet.down = 369),
            ("rows", |sheet| sheet.top = 11),
            ("columns", |sheet| sheet.left = 1),
            ("rows", |sheet| sheet.paper = Paper::Letter),
            ("first", |sheet| sheet.first = 25),
            ("margin", |sheet| sheet.margin = 186),
        ];
        for (field, change) in wrong {
            let mut sheet = three_by_eight();
            change(&mut sheet);
            let Err(LabelsRefused::Sheet { field: named, .. }) = sheet.check() else {
                unreachable!("{field} was let through")
            };
            assert_eq!(named, field);
        }
    }
}
