//! The two functions that a page calls: room for a picture, and what stands in it.
//!
//! The only file with `unsafe`: the page hands over an address in this module's own memory.

use std::cell::RefCell;

thread_local! {
    static BYTES: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
}

/// Makes room for a picture of so many bytes and says where.
#[expect(unsafe_code, reason = "exported by name to the page")]
#[unsafe(no_mangle)]
pub extern "C" fn reserve(bytes: usize) -> *mut u8 {
    BYTES.with_borrow_mut(|room| {
        room.clear();
        room.resize(bytes, 0);
        room.as_mut_ptr()
    })
}

/// Reads the picture that was written into the room: the text's address in the upper half, its length in the lower; 0
/// if no code reads. It stays there until the next call of either function.
#[expect(unsafe_code, reason = "exported by name to the page")]
#[unsafe(no_mangle)]
pub extern "C" fn read(width: usize) -> u64 {
    let grey = BYTES.with_borrow_mut(std::mem::take);
    let Some(text) = super::read(width, &grey) else {
        return 0;
    };
    BYTES.with_borrow_mut(|room| {
        *room = text.into_bytes();
        ((room.as_ptr() as u64) << 32) | room.len() as u64
    })
}
