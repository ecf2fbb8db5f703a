//! The one place where memory is touched by its address.

/// A register of a peripheral.
///
/// Made only from the addresses in the machines' modules, which come from the manuals of the chips; all of them are words that may be read and written
/// at any time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Register(u32);

impl Register {
    /// The register at an address.
    pub(crate) const fn at(address: u32) -> Self {
        Self(address)
    }

    /// The register `offset` octets behind the first address of a peripheral.
    #[cfg(target_arch = "arm")]
    pub(crate) const fn of(peripheral: u32, offset: u32) -> Self {
        Self(peripheral.wrapping_add(offset))
    }

    /// What it holds. Reading may do something: see the manual.
    pub(crate) fn read(self) -> u32 {
        // SAFETY: an aligned register of this machine, see the type.
        unsafe { (self.0 as *const u32).read_volatile() }
    }

    /// Writes it.
    pub(crate) fn write(self, value: u32) {
        // SAFETY: an aligned register of this machine, see the type.
        unsafe { (self.0 as *mut u32).write_volatile(value) }
    }
}

/// A register of one octet, where a word would reach beyond it.
#[cfg(machine = "riscv")]
#[derive(Debug, Clone, Copy)]
pub(crate) struct OctetRegister(u32);

#[cfg(machine = "riscv")]
impl OctetRegister {
    /// The register at an address.
    pub(crate) const fn at(address: u32) -> Self {
        Self(address)
    }

    /// What it holds. Reading may do something: see the manual.
    pub(crate) fn read(self) -> u8 {
        // SAFETY: a register of this machine, see [`Register`].
        unsafe { (self.0 as *const u8).read_volatile() }
    }

    /// Writes it.
    pub(crate) fn write(self, value: u8) {
        // SAFETY: a register of this machine, see [`Register`].
        unsafe { (self.0 as *mut u8).write_volatile(value) }
    }
}
