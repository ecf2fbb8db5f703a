//! Drivers that can say whether they are ready, for both versions of the trait crate.

macro_rules! suite {
    ($module:ident) => {
        mod $module {
            use ::std::{vec, vec::Vec};
            use ::$module::{ErrorKind, ErrorType, Read, ReadReady, Write, WriteReady};

            use super::super::at;
            use crate::io::{
                Line, Taken,
                $module::{Halves, Serial},
            };

            /// A driver with `room` octets of room, `step` of which it takes at once; waiting is a panic.
            #[derive(Default)]
            struct Driver {
                coming: Vec<u8>,
                gone: Vec<u8>,
                room: usize,
                step: usize,
                broken: bool,
            }

            impl ErrorType for Driver {
                type Error = ErrorKind;
            }

            impl Read for Driver {
                fn read(&mut self, into: &mut [u8]) -> Result<usize, ErrorKind> {
                    assert!(!self.coming.is_empty(), "a driver that is not ready would wait here");
                    let octets = into.len().min(self.coming.len());
                    for (cell, octet) in into.iter_mut().zip(self.coming.drain(..octets)) {
                        *cell = octet;
                    }
                    Ok(octets)
                }
            }

            impl ReadReady for Driver {
                fn read_ready(&mut self) -> Result<bool, ErrorKind> {
                    if self.broken { Err(ErrorKind::Other) } else { Ok(!self.coming.is_empty()) }
                }
            }

            impl Write for Driver {
                fn write(&mut self, octets: &[u8]) -> Result<usize, ErrorKind> {
                    assert!(self.room > 0, "a driver that is not ready would wait here");
                    let octets = &octets[..octets.len().min(self.room).min(self.step)];
                    self.gone.extend_from_slice(octets);
                    self.room -= octets.len();
                    Ok(octets.len())
                }

                fn flush(&mut self) -> Result<(), ErrorKind> {
                    panic!("flushing would wait");
                }
            }

            impl WriteReady for Driver {
                fn write_ready(&mut self) -> Result<bool, ErrorKind> {
                    if self.broken { Err(ErrorKind::Other) } else { Ok(self.room > 0) }
                }
            }

            fn exercise(line: &mut impl Line<Error = ErrorKind>) {
                let mut octets = [0; 2];
                assert_eq!(line.take(at(4), &mut octets), Ok(Taken { octets: 2, arrived: at(4) }));
                assert_eq!(octets, [1, 2]);
                assert_eq!(line.take(at(5), &mut octets), Ok(Taken { octets: 1, arrived: at(5) }));
                assert_eq!(line.take(at(6), &mut octets), Ok(Taken { octets: 0, arrived: at(6) }));
                assert_eq!(line.take(at(6), &mut []), Ok(Taken { octets: 0, arrived: at(6) }));
                assert_eq!((line.put(&[7; 9]), line.put(&[8])), (Ok(5), Ok(0)));
                assert_eq!(line.unsent(), None);
            }

            #[test]
            fn a_driver_is_never_made_to_wait() {
                let driver = || Driver { coming: vec![1, 2, 3], room: 5, step: 2, ..Driver::default() };
                let mut whole = Serial(driver());
                exercise(&mut whole);
                assert_eq!(whole.0.gone, [7; 5]);
                exercise(&mut Halves { receiver: driver(), sender: driver() });
            }

            #[test]
            fn a_drivers_error_comes_through() {
                let mut line = Serial(Driver { broken: true, ..Driver::default() });
                assert_eq!(line.take(at(0), &mut [0]), Err(ErrorKind::Other));
                assert_eq!(line.put(&[0]), Err(ErrorKind::Other));
            }

            #[test]
            fn a_driver_that_takes_nothing_though_ready_ends_the_round() {
                assert_eq!(Serial(Driver { room: 1, ..Driver::default() }).put(&[1]), Ok(0));
            }
        }
    };
}

#[cfg(feature = "embedded-io-06")]
suite!(embedded_io_06);
#[cfg(feature = "embedded-io-07")]
suite!(embedded_io_07);
