//! Async drivers, for both versions of the trait crate, polled by hand and dropped at every point.

macro_rules! suite {
    ($module:ident) => {
        mod $module {
            use ::std::{
                cell::RefCell,
                future::{Future, poll_fn},
                pin::pin,
                rc::Rc,
                task::{Context, Poll, Waker},
                vec::Vec,
            };
            use ::$module::{ErrorType, Read, Write};
            // The error kinds are those of the blocking trait crate, which the async one gives on.
            use ::$module::ErrorKind;

            use super::super::at;
            use crate::io::{Line, Taken, $module::Pumped};

            /// What the wire has and takes; the halves below wait while it has nothing.
            #[derive(Default)]
            struct Wire {
                coming: Vec<u8>,
                gone: Vec<u8>,
                room: usize,
                broken: bool,
            }

            #[derive(Clone, Default)]
            struct Half(Rc<RefCell<Wire>>);

            impl ErrorType for Half {
                type Error = ErrorKind;
            }

            impl Read for Half {
                async fn read(&mut self, into: &mut [u8]) -> Result<usize, ErrorKind> {
                    poll_fn(|_| {
                        let mut wire = self.0.borrow_mut();
                        if wire.broken {
                            return Poll::Ready(Err(ErrorKind::Other));
                        }
                        if wire.coming.is_empty() {
                            return Poll::Pending;
                        }
                        let octets = into.len().min(wire.coming.len());
                        for (cell, octet) in into.iter_mut().zip(wire.coming.drain(..octets)) {
                            *cell = octet;
                        }
                        Poll::Ready(Ok(octets))
                    })
                    .await
                }
            }

            impl Write for Half {
                async fn write(&mut self, octets: &[u8]) -> Result<usize, ErrorKind> {
                    poll_fn(|_| {
                        let mut wire = self.0.borrow_mut();
                        if wire.room == 0 {
                            return Poll::Pending;
                        }
                        let octets = &octets[..octets.len().min(wire.room)];
                        wire.gone.extend_from_slice(octets);
                        wire.room -= octets.len();
                        Poll::Ready(Ok(octets.len()))
                    })
                    .await
                }

                async fn flush(&mut self) -> Result<(), ErrorKind> {
                    Ok(())
                }
            }

            type Wired = Pumped<Half, Half, 8>;

            fn wired() -> (Half, Wired) {
                let wire = Half::default();
                (wire.clone(), Pumped::new(wire.clone(), wire))
            }

            /// Polls a fresh pump once and drops it.
            fn nudge(line: &mut Wired, now: u32) -> Poll<Result<(), ErrorKind>> {
                pin!(line.pump(|| at(now))).poll(&mut Context::from_waker(Waker::noop()))
            }

            #[test]
            fn it_waits_until_octets_have_moved_and_stamps_them() {
                let (wire, mut line) = wired();
                assert_eq!(nudge(&mut line, 1), Poll::Pending);
                wire.0.borrow_mut().coming.extend([1, 2, 3]);
                assert_eq!(nudge(&mut line, 2), Poll::Ready(Ok(())));
                let mut octets = [0; 2];
                assert_eq!(line.take(at(9), &mut octets), Ok(Taken { octets: 2, arrived: at(2) }));
                wire.0.borrow_mut().coming.push(4);
                assert_eq!(nudge(&mut line, 3), Poll::Ready(Ok(())));
                assert_eq!(
                    line.take(at(9), &mut octets),
                    Ok(Taken { octets: 2, arrived: at(2) }),
                    "the older stamp"
                );
                assert_eq!(octets, [3, 4]);
            }

            #[test]
            fn what_is_put_leaves_as_the_driver_takes_it() {
                let (wire, mut line) = wired();
                assert_eq!((line.put(&[1, 2, 3, 4, 5, 6, 7, 8, 9]), line.unsent()), (Ok(8), Some(8)));
                assert_eq!(nudge(&mut line, 0), Poll::Pending);
                wire.0.borrow_mut().room = 3;
                assert_eq!((nudge(&mut line, 0), line.unsent()), (Poll::Ready(Ok(())), Some(5)));
                assert_eq!(line.put(&[10, 11, 12, 13]), Ok(3));
                wire.0.borrow_mut().room = 100;
                assert_eq!((nudge(&mut line, 0), line.unsent()), (Poll::Ready(Ok(())), Some(0)));
                assert_eq!(wire.0.borrow().gone, [1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12]);
            }

            #[test]
            fn dropped_futures_lose_and_double_nothing() {
                let (wire, mut line) = wired();
                let (mut sent, mut received, mut put) = (Vec::new(), Vec::new(), Vec::new());
                for round in 0..200_u8 {
                    if round % 3 == 0 {
                        wire.0.borrow_mut().coming.extend([round, round ^ 0xFF]);
                        sent.extend([round, round ^ 0xFF]);
                    }
                    if round % 2 == 0 && line.put(&[round]) == Ok(1) {
                        put.push(round);
                    }
                    wire.0.borrow_mut().room = usize::from(round % 5 == 0) * 2;
                    let _ = nudge(&mut line, u32::from(round));
                    let mut octets = [0; 3];
                    let taken = line.take(at(0), &mut octets).unwrap().octets;
                    received.extend_from_slice(&octets[..taken]);
                }
                assert!(sent.starts_with(&received) && received.len() > 100, "{received:?}");
                assert!(put.starts_with(&wire.0.borrow().gone) && wire.0.borrow().gone.len() > 20);
            }

            #[test]
            fn with_nothing_to_send_and_no_room_it_returns_at_once() {
                let (wire, mut line) = wired();
                wire.0.borrow_mut().coming.extend([0; 20]);
                assert_eq!(
                    (nudge(&mut line, 0), nudge(&mut line, 0)),
                    (Poll::Ready(Ok(())), Poll::Ready(Ok(())))
                );
                assert_eq!(wire.0.borrow().coming.len(), 12);
            }

            #[test]
            fn a_timer_ends_the_wait_but_octets_come_first() {
                let (wire, mut line) = wired();
                let nudge = |line: &mut Wired| {
                    pin!(line.pump_or(|| at(1), ::std::future::ready(())))
                        .poll(&mut Context::from_waker(Waker::noop()))
                };
                assert_eq!(nudge(&mut line), Poll::Ready(Ok(())));
                assert_eq!(line.take(at(2), &mut [0; 2]).unwrap().octets, 0);
                wire.0.borrow_mut().coming.push(6);
                assert_eq!(nudge(&mut line), Poll::Ready(Ok(())));
                assert_eq!(line.take(at(2), &mut [0; 2]).unwrap().octets, 1);
            }

            #[test]
            fn two_ports_talk_over_it() {
                use crate::{
                    link::{Config, OwnNumber, State},
                    port::Port,
                };

                let ends = [wired(), wired()];
                let now = ::std::cell::Cell::new(0);
                let [mut desk, mut dome] = [1, 0x4000_0001].map(|random| {
                    let half = ends[usize::from(random != 1)].0.clone();
                    let line = Pumped::<Half, Half, 8>::new(half.clone(), half);
                    let mut port = Port::uart(line, Config::uart(115_200, OwnNumber::Random(random)), at(0));
                    port.open(at(0));
                    port
                });
                for step in 0..2000_u32 {
                    now.set(step * 100);
                    for (port, near, far) in [(&mut desk, 0, 1), (&mut dome, 1, 0)] {
                        while port.service(at(now.get())).unwrap().is_some() {}
                        let wire: &Half = &ends[near].0;
                        wire.0.borrow_mut().room = 3;
                        for _ in 0..2 {
                            let _ = pin!(port.line_mut().pump(|| at(now.get())))
                                .poll(&mut Context::from_waker(Waker::noop()));
                        }
                        let gone: Vec<u8> = wire.0.borrow_mut().gone.drain(..).collect();
                        ends[far].0.0.borrow_mut().coming.extend(gone);
                    }
                }
                assert_eq!((desk.state(), dome.state()), (State::Up, State::Up));
            }

            #[test]
            fn a_drivers_error_comes_through_and_what_is_there_stays() {
                let (wire, mut line) = wired();
                wire.0.borrow_mut().coming.push(5);
                assert_eq!(nudge(&mut line, 7), Poll::Ready(Ok(())));
                wire.0.borrow_mut().broken = true;
                assert_eq!(nudge(&mut line, 8), Poll::Ready(Err(ErrorKind::Other)));
                assert_eq!(line.take(at(9), &mut [0; 2]), Ok(Taken { octets: 1, arrived: at(7) }));
            }
        }
    };
}

#[cfg(feature = "embedded-io-async-06")]
suite!(embedded_io_async_06);
#[cfg(feature = "embedded-io-async-07")]
suite!(embedded_io_async_07);
