//! Freezing combs against wax moth.

use domain::science::frost::frost;
use domain::units::Temperature;

// DI-4: COLOSS BEEBOOK, volume II, 5.8.1 (read): over 24 h below 0 °C; 4.5 h at -7, 3 h at -12, 2 h at -15 °C.
#[test]
fn frost_kills_moth_in_the_published_times_and_between_them_in_the_longer_one() {
    for (tenths, minutes, longer, extrapolated) in [
        (-1, 1_440, true, false),
        (-69, 1_440, true, false),
        (-70, 270, false, false),
        (-119, 270, false, false),
        (-120, 180, false, false),
        (-149, 180, false, false),
        (-150, 120, false, false),
        (-151, 120, false, true),
        (-300, 120, false, true),
    ] {
        let got = frost(Temperature::constant(tenths)).unwrap();
        assert_eq!(
            (got.minutes, got.longer, got.extrapolated),
            (minutes, longer, extrapolated),
            "{tenths}"
        );
    }
    assert!(frost(Temperature::constant(0)).is_err(), "that is no frost");
}
