//! Streams and sockets of a computer.

use ::std::{
    io::{self, Cursor, ErrorKind, Read, Write},
    net::{TcpListener, TcpStream, UdpSocket},
    vec::Vec,
};

use super::{
    super::{
        Datagram, Line, Medium, Received, Taken, Whole,
        std::{Stream, received, sent},
    },
    at,
};

#[test]
fn a_stream_gives_nothing_rather_than_wait_and_tells_its_end() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let near = TcpStream::connect(listener.local_addr().unwrap()).unwrap();
    let (far, _) = listener.accept().unwrap();
    near.set_nonblocking(true).unwrap();
    let (mut near, mut far) = (Stream(near), Stream(far));
    let mut octets = [0; 8];
    assert_eq!(near.take(at(1), &mut octets).unwrap(), Taken { octets: 0, arrived: at(1) });
    assert_eq!(near.put(&[1, 2, 3]).unwrap(), 3);
    assert_eq!(far.take(at(2), &mut octets).unwrap(), Taken { octets: 3, arrived: at(2) });
    assert_eq!(octets[..3], [1, 2, 3]);
    let mut filled = 0;
    while let Ok(put @ 1..) = near.put(&[0; 65_536]) {
        filled += put;
    }
    assert!(filled > 0);
    assert_eq!(near.put(&[0]).unwrap(), 0, "full: no room, no wait, no error");
    drop(near);
    assert_eq!(
        Stream(Cursor::new(Vec::new())).take(at(0), &mut octets).unwrap_err().kind(),
        ErrorKind::UnexpectedEof
    );
}

#[test]
fn a_udp_socket_carries_whole_datagrams_and_takes_a_silent_peer_for_silence() {
    let near = UdpSocket::bind("127.0.0.1:0").unwrap();
    let far = UdpSocket::bind("127.0.0.1:0").unwrap();
    near.connect(far.local_addr().unwrap()).unwrap();
    near.set_nonblocking(true).unwrap();
    let address = near.local_addr().unwrap();
    let mut line = Whole::new(near);
    let mut octets = [0; 8];
    assert_eq!(line.take(at(1), &mut octets).unwrap(), Taken { octets: 0, arrived: at(1) });
    assert_eq!(line.put(&[1, 2]).unwrap(), 2);
    assert_eq!((far.recv(&mut octets).unwrap(), &octets[..2]), (2, &[1, 2][..]));
    far.send_to(&[3; 5], address).unwrap();
    // Datagrams on the loopback are there when the call returns.
    assert_eq!(line.take(at(2), &mut octets).unwrap(), Taken { octets: 5, arrived: at(2) });
    drop(far);
    for _ in 0..3 {
        assert_eq!(line.put(&[4]).unwrap(), 1, "nobody there: as if lost");
        assert_eq!(line.take(at(3), &mut octets).unwrap().octets, 0);
    }
    assert_eq!(line.radio().medium(), Medium::Free);
}

/// A stream that fails in one way.
struct Failing(ErrorKind);

impl Read for Failing {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        Err(self.0.into())
    }
}

impl Write for Failing {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(self.0.into())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn only_three_errors_of_a_stream_mean_nothing_now() {
    for kind in [ErrorKind::WouldBlock, ErrorKind::TimedOut, ErrorKind::Interrupted] {
        let mut line = Stream(Failing(kind));
        assert_eq!(line.take(at(1), &mut [0; 4]).unwrap(), Taken { octets: 0, arrived: at(1) });
        assert_eq!(line.put(&[1]).unwrap(), 0);
    }
    for kind in [ErrorKind::BrokenPipe, ErrorKind::ConnectionReset, ErrorKind::ConnectionRefused] {
        let mut line = Stream(Failing(kind));
        assert_eq!(line.take(at(1), &mut [0; 4]).unwrap_err().kind(), kind);
        assert_eq!(line.put(&[1]).unwrap_err().kind(), kind);
    }
    // No room to read into is not the end.
    let ended = Stream(Cursor::new(Vec::new())).take(at(1), &mut []).unwrap();
    assert_eq!(ended, Taken { octets: 0, arrived: at(1) });
}

#[test]
fn a_socket_that_is_busy_or_whose_peer_is_not_there_is_not_broken() {
    let error = |kind: ErrorKind| -> io::Result<usize> { Err(kind.into()) };
    assert_eq!(sent(Ok(3)).unwrap(), Medium::Free);
    assert_eq!(sent(error(ErrorKind::ConnectionRefused)).unwrap(), Medium::Free);
    assert_eq!(sent(error(ErrorKind::WouldBlock)).unwrap(), Medium::Busy);
    assert_eq!(sent(error(ErrorKind::NotConnected)).unwrap_err().kind(), ErrorKind::NotConnected);
    let whole = Received { octets: 3, arrived: at(7), strength: None };
    assert_eq!(received(Ok(3), at(7)).unwrap(), Some(whole));
    assert_eq!(received(error(ErrorKind::WouldBlock), at(7)).unwrap(), None);
    assert_eq!(received(error(ErrorKind::ConnectionRefused), at(7)).unwrap(), None);
    assert_eq!(received(error(ErrorKind::NotConnected), at(7)).unwrap_err().kind(), ErrorKind::NotConnected);
}
