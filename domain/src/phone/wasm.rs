//! The two functions that a page calls: room for a question, and the question itself. JSON in UTF-8, both ways.
//!
//! Built twice: with the rows and decisions, and with the computations alone.
//!
//! The only file with `unsafe`: the page hands over an address in this module's own memory.

use std::cell::RefCell;

thread_local! {
    #[cfg(feature = "house")]
    static PHONE: RefCell<super::Phone> = RefCell::default();
    static BYTES: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
}

/// Makes room for a question of so many bytes and says where.
#[expect(unsafe_code, reason = "exported by name to the page")]
#[unsafe(no_mangle)]
pub extern "C" fn reserve(bytes: usize) -> *mut u8 {
    BYTES.with_borrow_mut(|room| {
        room.clear();
        room.resize(bytes, 0);
        room.as_mut_ptr()
    })
}

/// Answers the question that was written into the room: the answer's address in the upper half, its length in the
/// lower. It stays there until the next call of either function.
#[expect(unsafe_code, reason = "exported by name to the page")]
#[unsafe(no_mangle)]
pub extern "C" fn call() -> u64 {
    let ask = BYTES.with_borrow_mut(std::mem::take);
    let ask = String::from_utf8_lossy(&ask);
    #[cfg(feature = "house")]
    let answer = PHONE.with_borrow_mut(|phone| phone.call(&ask));
    #[cfg(not(feature = "house"))]
    let answer = super::reckon_alone(&ask);
    BYTES.with_borrow_mut(|room| {
        *room = answer.into_bytes();
        ((room.as_ptr() as u64) << 32) | room.len() as u64
    })
}
