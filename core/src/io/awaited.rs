//! An adapter for async drivers of the trait crate `embedded-io-async`. One text for all versions.

/// Makes the module for one version of the trait crate.
macro_rules! adapter {
    ($module:ident, $krate:ident, $version:literal) => {
        #[doc = concat!("An adapter for async drivers of `embedded-io-async` ", $version, ".")]
        ///
        /// The loop of a board: wait for octets or for the time when something is due, then serve.
        ///
        /// ```
        #[doc = concat!("use bellwire::{io::", stringify!($module), "::Pumped, link::{Config, Event, OwnNumber, Wake}, port::Port, time::Instant};")]
        #[doc = concat!("use ", stringify!($module), "::{ErrorType, Read, Write};")]
        ///
        /// async fn board<R: Read, W: Write + ErrorType<Error = R::Error>>(
        ///     receiver: R,
        ///     sender: W,
        ///     tick: impl Fn() -> Instant,
        ///     sleep: impl AsyncFn(Wake),
        ///     mut show: impl FnMut(Event<'_>),
        /// ) -> Result<(), R::Error> {
        ///     let line = Pumped::<_, _, 128>::new(receiver, sender);
        ///     let mut port = Port::uart(line, Config::uart(115_200, OwnNumber::Random(0x5EED_0001)), tick());
        ///     port.open(tick());
        ///     loop {
        ///         while let Some(event) = port.service(tick())? {
        ///             show(event);
        ///         }
        ///         let wake = port.poll_wake();
        ///         port.line_mut().pump_or(&tick, sleep(wake)).await?;
        ///     }
        /// }
        /// ```
        pub mod $module {
            use core::{
                future::{Future, pending, poll_fn},
                pin::pin,
                task::Poll,
            };

            use ::$krate::{ErrorType, Read, Write};

            use crate::{
                io::{Line, Taken},
                time::Instant,
            };

            /// A line over the two halves of an async driver, with `N` octets of room each way.
            ///
            /// [`pump`](Pumped::pump) moves octets between the driver and this object; the port takes and puts without waiting. Whatever was moved
            /// is in the object and never in the future, so a dropped future loses nothing that the driver itself does not lose: the
            /// driver's `read` and `write` must be free of side effects when cancelled, which the trait crate asks for and drivers state.
            #[derive(Debug)]
            #[cfg_attr(feature = "defmt", derive(defmt::Format))]
            pub struct Pumped<R, W, const N: usize = 128> {
                receiver: R,
                sender: W,
                incoming: [u8; N],
                /// Octets of `incoming` that wait, from its start.
                received: usize,
                arrived: Instant,
                outgoing: [u8; N],
                /// Octets of `outgoing` that wait, from its start.
                unsent: usize,
            }

            impl<R, W, const N: usize> Pumped<R, W, N>
            where
                R: Read,
                W: Write + ErrorType<Error = R::Error>,
            {
                /// A line over the halves of a driver.
                #[must_use]
                pub const fn new(receiver: R, sender: W) -> Self {
                    const { assert!(N > 0, "a line needs room for one octet") };
                    Self {
                        receiver,
                        sender,
                        incoming: [0; N],
                        received: 0,
                        arrived: Instant::from_ticks(0),
                        outgoing: [0; N],
                        unsent: 0,
                    }
                }

                /// Waits until octets have come in or gone out, and stamps the former by `tick`. With nothing to send and no room to receive it
                /// returns at once: serve the port.
                ///
                /// Cancel-safe if the driver is. What one call has moved is kept when the next call fails.
                ///
                /// # Errors
                /// The driver's.
                pub async fn pump(&mut self, tick: impl Fn() -> Instant) -> Result<(), R::Error> {
                    self.pump_or(tick, pending()).await
                }

                /// Like [`pump`](Pumped::pump), and returns too when `timer` is over: octets that are there come first.
                ///
                /// # Errors
                /// The driver's.
                pub async fn pump_or(
                    &mut self,
                    tick: impl Fn() -> Instant,
                    timer: impl Future<Output = ()>,
                ) -> Result<(), R::Error> {
                    let Round { receiver, room, sender, waiting } = self.round();
                    let (has_room, has_waiting) = (!room.is_empty(), !waiting.is_empty());
                    if !has_room && !has_waiting {
                        return Ok(());
                    }
                    let mut timer = pin!(timer);
                    let moved = {
                        let mut read = pin!(receiver.read(room));
                        let mut write = pin!(sender.write(waiting));
                        poll_fn(|context| {
                            if has_room && let Poll::Ready(octets) = read.as_mut().poll(context) {
                                return Poll::Ready(octets.map(Moved::In));
                            }
                            if has_waiting && let Poll::Ready(octets) = write.as_mut().poll(context) {
                                return Poll::Ready(octets.map(Moved::Out));
                            }
                            timer.as_mut().poll(context).map(|()| Ok(Moved::Nothing))
                        })
                        .await?
                    };
                    self.note(moved, tick());
                    Ok(())
                }

                /// What a round of one's own may move, in the place of [`pump_or`](Pumped::pump_or); hand what it has moved to [`note`](Pumped::note).
                ///
                /// The compiler puts a panic into every `async fn` that returns, for the case that somebody polls it after its end. A program that
                /// proves that it holds none does the round in a future that never returns, as the focuser of the examples does.
                pub fn round(&mut self) -> Round<'_, R, W> {
                    let Self { receiver, sender, incoming, received, outgoing, unsent, .. } = self;
                    let room = incoming.get_mut(*received..).unwrap_or_default();
                    let waiting = outgoing.get(..*unsent).unwrap_or_default();
                    Round { receiver, room, sender, waiting }
                }

                /// A round has moved this; `now` stamps what has come in. More octets than [`round`](Pumped::round) gave count as all of them.
                pub fn note(&mut self, moved: Moved, now: Instant) {
                    match moved {
                        Moved::In(octets) => self.note_received(octets, now),
                        Moved::Out(octets) => self.note_sent(octets),
                        Moved::Nothing => {}
                    }
                }

                fn note_received(&mut self, octets: usize, now: Instant) {
                    // Octets that still wait keep the older stamp, which is the safe side for freshness.
                    if self.received == 0 {
                        self.arrived = now;
                    }
                    self.received = self.received.saturating_add(octets).min(N);
                }

                fn note_sent(&mut self, octets: usize) {
                    let octets = octets.min(self.unsent);
                    drop_front(&mut self.outgoing, octets);
                    self.unsent = self.unsent.saturating_sub(octets);
                }
            }

            /// Drops the first octets; the others move to the front. (`copy_within` would do, and holds a panic that no compiler sees through.)
            fn drop_front(octets: &mut [u8], count: usize) {
                let mut place = count;
                while let Some(octet) = octets.get(place).copied()
                    && let Some(cell) = octets.get_mut(place.saturating_sub(count))
                {
                    *cell = octet;
                    place = place.saturating_add(1);
                }
            }

            /// The halves of the driver, and what there is for each.
            #[derive(Debug)]
            pub struct Round<'a, R, W> {
                /// Read from it, if there is room.
                pub receiver: &'a mut R,
                /// Into this.
                pub room: &'a mut [u8],
                /// Write to it, if something waits.
                pub sender: &'a mut W,
                /// This.
                pub waiting: &'a [u8],
            }

            /// What a round has moved.
            #[derive(Debug, Clone, Copy, PartialEq, Eq)]
            #[cfg_attr(feature = "defmt", derive(defmt::Format))]
            pub enum Moved {
                /// So many octets have come in, at the front of the room.
                In(usize),
                /// So many have gone out.
                Out(usize),
                /// None: the timer was over.
                Nothing,
            }

            impl<R: ErrorType, W, const N: usize> Line for Pumped<R, W, N> {
                type Error = R::Error;

                fn take(&mut self, _now: Instant, into: &mut [u8]) -> Result<Taken, R::Error> {
                    let octets = self.received.min(into.len());
                    for (cell, octet) in into.iter_mut().zip(self.incoming.get(..octets).unwrap_or_default())
                    {
                        *cell = *octet;
                    }
                    drop_front(&mut self.incoming, octets);
                    self.received = self.received.saturating_sub(octets);
                    Ok(Taken { octets, arrived: self.arrived })
                }

                fn put(&mut self, octets: &[u8]) -> Result<usize, R::Error> {
                    let room = self.outgoing.get_mut(self.unsent..).unwrap_or_default();
                    let put = octets.len().min(room.len());
                    for (cell, octet) in room.iter_mut().zip(octets) {
                        *cell = *octet;
                    }
                    self.unsent = self.unsent.saturating_add(put);
                    Ok(put)
                }

                fn unsent(&self) -> Option<usize> {
                    Some(self.unsent)
                }
            }
        }
    };
}

pub(super) use adapter;
