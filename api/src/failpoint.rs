//! Places where a test stops the service to kill it there. Only with the feature `failpoints`, which no release has.

/// Says where such places are told: `failpoints` in this data folder.
#[cfg(feature = "failpoints")]
pub(crate) fn arm(data: &std::path::Path) {
    // In a program that runs several services the first one's folder counts.
    let _ = on::FOLDER.set(data.join("failpoints"));
}

/// Says where such places are told: nowhere.
#[cfg(not(feature = "failpoints"))]
pub(crate) const fn arm(_: &std::path::Path) {}

/// A place. Whoever comes here while a file of this name lies in the folder stays for ever; the file is renamed first.
#[cfg(feature = "failpoints")]
pub(crate) async fn reach(place: &str) {
    let Some(folder) = on::FOLDER.get() else { return };
    let (told, reached) = (folder.join(place), folder.join(format!("{place}.reached")));
    if told.exists() && std::fs::rename(told, reached).is_ok() {
        std::future::pending::<()>().await;
    }
}

/// A place that is none.
#[cfg(not(feature = "failpoints"))]
#[allow(clippy::unused_async, reason = "with the feature it waits")]
pub(crate) async fn reach(_: &str) {}

#[cfg(feature = "failpoints")]
mod on {
    pub(super) static FOLDER: std::sync::OnceLock<std::path::PathBuf> = std::sync::OnceLock::new();
}
