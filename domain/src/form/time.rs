//! Times and dates in JSON, as RFC 3339 writes them.

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Timelike, Utc};

use super::{Desk, Form};

impl Form for DateTime<Utc> {
    fn blank() -> Self {
        Self::UNIX_EPOCH
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        desk.as_text(
            self,
            |told| instant(told).ok_or("a time is written like 2025-07-01T12:00:00Z"),
            instant_text,
        );
    }
}

impl Form for NaiveDate {
    fn blank() -> Self {
        DateTime::<Utc>::UNIX_EPOCH.date_naive()
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        desk.as_text(
            self,
            |told| date(told).ok_or("a date is written like 2025-07-01"),
            |date| date_text(*date),
        );
    }
}

/// Takes so many digits.
fn digits(text: &mut &str, count: usize) -> Option<u32> {
    let (head, rest) = text.split_at_checked(count)?;
    *text = rest;
    let digits = head.bytes().all(|byte| byte.is_ascii_digit());
    head.parse().ok().filter(|_| digits)
}

fn mark(text: &mut &str, marks: &[char]) -> Option<char> {
    let found = text.chars().next().filter(|mark| marks.contains(mark))?;
    *text = text.get(1..)?;
    Some(found)
}

fn date_of(text: &mut &str) -> Option<NaiveDate> {
    // Years beyond four digits are written with their sign.
    let sign = mark(text, &['+', '-']);
    let places = if sign.is_some() { text.find('-')? } else { 4 };
    let year = i32::try_from(digits(text, places)?).ok()?;
    mark(text, &['-'])?;
    let month = digits(text, 2)?;
    mark(text, &['-'])?;
    NaiveDate::from_ymd_opt(if sign == Some('-') { -year } else { year }, month, digits(text, 2)?)
}

fn date(mut text: &str) -> Option<NaiveDate> {
    date_of(&mut text).filter(|_| text.is_empty())
}

fn time_of(text: &mut &str) -> Option<NaiveTime> {
    let hour = digits(text, 2)?;
    mark(text, &[':'])?;
    let minute = digits(text, 2)?;
    mark(text, &[':'])?;
    let second = digits(text, 2)?;
    let mut nano = 0;
    if mark(text, &['.']).is_some() {
        let told = text.bytes().take_while(u8::is_ascii_digit).count();
        let kept = told.min(9);
        nano = digits(text, kept)? * 10_u32.pow(u32::try_from(9 - kept).ok()?);
        *text = text.get(told - kept..)?;
    }
    // A leap second is kept as a longer last second of its minute.
    let (second, nano) = if second == 60 {
        (59, nano + 1_000_000_000)
    } else {
        (second, nano)
    };
    NaiveTime::from_hms_nano_opt(hour, minute, second, nano)
}

fn instant(mut text: &str) -> Option<DateTime<Utc>> {
    let date = date_of(&mut text)?;
    mark(&mut text, &['T', 't', ' '])?;
    let there = NaiveDateTime::new(date, time_of(&mut text)?);
    let sign = mark(&mut text, &['Z', 'z', '+', '-'])?;
    let mut east = 0;
    if sign == '+' || sign == '-' {
        let hours = digits(&mut text, 2)?;
        mark(&mut text, &[':'])?;
        let minutes = digits(&mut text, 2).filter(|minutes| *minutes < 60)?;
        east = i64::from(hours * 60 + minutes);
    }
    let east = TimeDelta::minutes(if sign == '-' { -east } else { east });
    text.is_empty().then_some(there.checked_sub_signed(east)?.and_utc())
}

fn date_text(date: NaiveDate) -> String {
    let (year, month, day) = (date.year(), date.month(), date.day());
    if (0..=9999).contains(&year) {
        format!("{year:04}-{month:02}-{day:02}")
    } else {
        format!("{year:+05}-{month:02}-{day:02}")
    }
}

fn instant_text(at: &DateTime<Utc>) -> String {
    let (second, nano) = (at.second(), at.nanosecond());
    let (second, nano) = if nano < 1_000_000_000 {
        (second, nano)
    } else {
        (second + 1, nano - 1_000_000_000)
    };
    let part = match nano {
        0 => String::new(),
        nano if nano % 1_000_000 == 0 => format!(".{:03}", nano / 1_000_000),
        nano if nano % 1_000 == 0 => format!(".{:06}", nano / 1_000),
        nano => format!(".{nano:09}"),
    };
    let (date, hour, minute) = (date_text(at.date_naive()), at.hour(), at.minute());
    format!("{date}T{hour:02}:{minute:02}:{second:02}{part}Z")
}
