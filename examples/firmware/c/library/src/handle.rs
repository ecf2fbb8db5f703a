//! What comes over the border from C is checked here: pointers, lengths, and whether a handle is one.

use core::{
    mem::MaybeUninit,
    ptr, slice,
    sync::atomic::{compiler_fence, Ordering},
};

use crate::status::Status;

/// What the memory of a handle holds. The mark stands apart from the thing, so that it can be read while a call holds the thing.
#[repr(C)]
pub(crate) struct Handle<T> {
    /// `T::MARK` and the handle's own address: other memory, and a copy elsewhere, have another one. Inverted while a call is under way.
    mark: u32,
    thing: MaybeUninit<T>,
}

/// A thing that has handles.
pub(crate) trait Marked {
    /// Unlike that of any other thing, and unlike what fresh memory holds.
    const MARK: u32;
}

/// The mark of a handle of `T` at this address.
fn mark<T: Marked>(handle: *const Handle<T>) -> u32 {
    // The low half of the address is enough.
    #[allow(clippy::cast_possible_truncation)]
    let place = handle.addr() as u32;
    T::MARK ^ place.rotate_left(16)
}

/// Refuses null and what is not aligned.
pub(crate) fn check<T>(pointer: *const T) -> Result<(), Status> {
    if pointer.is_null() {
        Err(Status::Null)
    } else if !pointer.is_aligned() {
        Err(Status::Unaligned)
    } else {
        Ok(())
    }
}

/// Where the mark is, and what it holds. No reference to the whole handle is ever made, so that a call in between may look at the mark; volatile, for it
/// may come out of an interrupt.
///
/// # Safety
/// A handle must fit at `handle`, into memory that has been written.
unsafe fn look<T>(handle: *mut Handle<T>) -> (*mut u32, u32) {
    // SAFETY: it fits there.
    let at = unsafe { ptr::addr_of_mut!((*handle).mark) };
    // SAFETY: as above, and every pattern of bits is a number.
    (at, unsafe { at.read_volatile() })
}

/// Makes a handle of `T` in `size` octets at `memory`. What was there is forgotten, unless a call has it.
///
/// # Safety
/// If not null, `memory` must be the caller's, `size` octets long, and have been written, be it with zeros.
pub(crate) unsafe fn make<M, T: Marked>(memory: *mut M, size: usize, thing: T) -> Result<(), Status> {
    const { assert!(size_of::<Handle<T>>() <= size_of::<M>(), "the memory in the header is too small") };
    const { assert!(align_of::<Handle<T>>() <= align_of::<M>(), "the memory in the header is not aligned") };
    check(memory)?;
    if size < size_of::<Handle<T>>() {
        return Err(Status::Short);
    }
    let handle: *mut Handle<T> = memory.cast();
    // SAFETY: aligned, and long enough.
    let (_, found) = unsafe { look(handle) };
    if found == !mark(handle) {
        return Err(Status::Busy);
    }
    // SAFETY: as above, and nobody has it.
    unsafe { handle.write(Handle { mark: mark(handle), thing: MaybeUninit::new(thing) }) };
    Ok(())
}

/// Lets `act` have the thing of a handle, unless another call has it.
///
/// # Safety
/// If not null, `memory` must point to a whole `M` that has been written, be it with zeros.
pub(crate) unsafe fn with<M, T: Marked, R>(
    memory: *mut M,
    act: impl FnOnce(&mut T) -> Result<R, Status>,
) -> Result<R, Status> {
    check(memory)?;
    let handle: *mut Handle<T> = memory.cast();
    // SAFETY: `make` has checked that a handle fits into an `M`.
    let (at, found) = unsafe { look(handle) };
    let sound = mark(handle);
    if found == !sound {
        return Err(Status::Busy);
    }
    if found != sound {
        return Err(Status::NotMade);
    }
    // SAFETY: as above.
    unsafe { at.write_volatile(!sound) };
    // What `act` does stays between the two marks, also for an interrupt's eyes.
    compiler_fence(Ordering::SeqCst);
    // SAFETY: the mark says that `make` has written the thing here, and no other call has it while the mark is inverted.
    let result = act(unsafe { &mut *ptr::addr_of_mut!((*handle).thing).cast::<T>() });
    compiler_fence(Ordering::SeqCst);
    // SAFETY: as above.
    unsafe { at.write_volatile(sound) };
    result
}

/// Writes a result to where the caller wants it.
///
/// # Safety
/// If not null, `into` must be the caller's to write a `T` to.
pub(crate) unsafe fn give<T>(into: *mut T, value: T) -> Result<(), Status> {
    check(into)?;
    // SAFETY: not null, aligned, and the caller's.
    unsafe { into.write(value) };
    Ok(())
}

/// Reads a parameter that the caller has written.
///
/// # Safety
/// If not null, `from` must point to a whole `T`. Every pattern of bits must be a `T`.
pub(crate) unsafe fn get<T: Copy>(from: *const T) -> Result<T, Status> {
    check(from)?;
    // SAFETY: not null, aligned, and written.
    Ok(unsafe { from.read() })
}

/// Octets of the caller. Null is allowed where there are none.
///
/// # Safety
/// If not null, `octets` must point to `length` octets that stay unchanged for `'a`.
pub(crate) unsafe fn octets<'a>(octets: *const u8, length: usize) -> Result<&'a [u8], Status> {
    match (octets.is_null(), length) {
        (_, 0) => Ok(&[]),
        (true, _) => Err(Status::Null),
        // No memory of this size can be the caller's.
        (false, _) if length > isize::MAX as usize => Err(Status::TooLong),
        // SAFETY: not null, and the caller's word for the length.
        (false, _) => Ok(unsafe { slice::from_raw_parts(octets, length) }),
    }
}
