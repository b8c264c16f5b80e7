//! Which one of many changes to the program is switched on. Read once, from the environment.

use std::collections::HashSet;
use std::fs::File;
use std::io::Write;
use std::sync::{LazyLock, Mutex, PoisonError};

static ON: LazyLock<usize> = LazyLock::new(|| {
    let on = std::env::var("MUTANT").ok().and_then(|number| number.parse().ok()).unwrap_or_default();
    if on > 0 {
        // The first failure is enough.
        std::panic::set_hook(Box::new(|_| std::process::exit(101)));
    }
    on
});

/// Where to write down which changes a test comes by.
static REACHED: LazyLock<Option<Mutex<(File, HashSet<usize>)>>> = LazyLock::new(|| {
    let path = std::env::var_os("MUTANTS_REACHED")?;
    Some(Mutex::new((File::create(path).ok()?, HashSet::new())))
});

/// Whether a change is switched on.
#[must_use]
pub fn on(number: usize) -> bool {
    if let Some(reached) = &*REACHED {
        let (file, known) = &mut *reached.lock().unwrap_or_else(PoisonError::into_inner);
        if known.insert(number) {
            let _ = writeln!(file, "{number}");
        }
    }
    *ON == number
}
