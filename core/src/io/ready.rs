//! Adapters for drivers of the trait crate `embedded-io` that can say whether they are ready. One text for all versions.

/// Makes the module for one version of the trait crate.
macro_rules! adapters {
    ($module:ident, $krate:ident, $version:literal) => {
        #[doc = concat!("Adapters for drivers of `embedded-io` ", $version, ".")]
        ///
        /// The driver must implement `ReadReady` and `WriteReady`, for plain `Read` waits. Octets are stamped when they are read, so serve the
        /// port often where set-points matter, or write a [`Line`](crate::io::Line) that stamps in the interrupt.
        pub mod $module {
            use ::$krate::{ErrorType, Read, ReadReady, Write, WriteReady};

            use crate::{
                io::{Line, Taken},
                time::Instant,
            };

            /// A line over a driver that both receives and sends.
            #[derive(Debug, Clone, PartialEq, Eq, Hash)]
            #[cfg_attr(feature = "defmt", derive(defmt::Format))]
            pub struct Serial<T>(pub T);

            impl<T: Read + ReadReady + Write + WriteReady> Line for Serial<T> {
                type Error = T::Error;

                fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, T::Error> {
                    take(&mut self.0, now, into)
                }

                fn put(&mut self, octets: &[u8]) -> Result<usize, T::Error> {
                    put(&mut self.0, octets)
                }
            }

            /// A line over the two halves of a split driver.
            #[derive(Debug, Clone, PartialEq, Eq, Hash)]
            #[cfg_attr(feature = "defmt", derive(defmt::Format))]
            pub struct Halves<R, W> {
                /// The receiving half.
                pub receiver: R,
                /// The sending half.
                pub sender: W,
            }

            impl<R, W> Line for Halves<R, W>
            where
                R: Read + ReadReady,
                W: Write + WriteReady + ErrorType<Error = R::Error>,
            {
                type Error = R::Error;

                fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, R::Error> {
                    take(&mut self.receiver, now, into)
                }

                fn put(&mut self, octets: &[u8]) -> Result<usize, R::Error> {
                    put(&mut self.sender, octets)
                }
            }

            fn take<R: Read + ReadReady>(
                driver: &mut R,
                now: Instant,
                into: &mut [u8],
            ) -> Result<Taken, R::Error> {
                let octets = if !into.is_empty() && driver.read_ready()? { driver.read(into)? } else { 0 };
                Ok(Taken { octets: octets.min(into.len()), arrived: now })
            }

            fn put<W: Write + WriteReady>(driver: &mut W, octets: &[u8]) -> Result<usize, W::Error> {
                let mut rest = octets;
                while !rest.is_empty() && driver.write_ready()? {
                    let written = driver.write(rest)?;
                    let Some(left) = rest.get(written..).filter(|_| written > 0) else { break };
                    rest = left;
                }
                Ok(octets.len().saturating_sub(rest.len()))
            }
        }
    };
}

pub(super) use adapters;
