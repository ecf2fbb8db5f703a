//! Vectors and start.

use core::ptr::{addr_of, addr_of_mut};

unsafe extern "C" {
    static stack_top: u32;
    static mut bss_begin: u32;
    static bss_end: u32;
    static mut data_begin: u32;
    static data_end: u32;
    static data_from: u32;
    fn image() -> !;
}

#[repr(C)]
struct Vectors {
    stack: *const u32,
    start: unsafe extern "C" fn() -> !,
    faults: [unsafe extern "C" fn() -> !; 14],
}

// SAFETY: nobody writes to the vectors.
unsafe impl Sync for Vectors {}

#[used]
#[unsafe(link_section = ".vectors")]
static VECTORS: Vectors = Vectors { stack: addr_of!(stack_top), start, faults: [fault; 14] };

/// Fills memory as a program expects it, then runs the image.
#[unsafe(no_mangle)]
unsafe extern "C" fn start() -> ! {
    // SAFETY: the symbols are those of link.x, whole words within RAM and flash; nothing else runs yet.
    unsafe {
        let mut cell = addr_of_mut!(bss_begin);
        while cell.cast_const() < addr_of!(bss_end) {
            cell.write_volatile(0);
            cell = cell.add(1);
        }
        let mut from = addr_of!(data_from);
        let mut cell = addr_of_mut!(data_begin);
        while cell.cast_const() < addr_of!(data_end) {
            cell.write_volatile(from.read_volatile());
            cell = cell.add(1);
            from = from.add(1);
        }
        image()
    }
}

unsafe extern "C" fn fault() -> ! {
    crate::board::exit(99)
}
