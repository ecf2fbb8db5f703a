//! Streams and sockets of a computer.

use ::std::{
    io::{Cursor, ErrorKind},
    net::{TcpListener, TcpStream, UdpSocket},
    vec::Vec,
};

use super::{
    super::{Datagram, Line, Medium, Taken, Whole, std::Stream},
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
