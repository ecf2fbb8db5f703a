//! Endpoints against real pseudo-terminals and sockets: every octet, gaps, and what is refused.

use std::{
    fs,
    io::{Read, Write},
    os::unix::fs::symlink,
    path::Path,
    time::{Duration, Instant},
};

use bellwire_cli::endpoint::{
    Endpoint, EndpointSpec, Gap, Item, Loss, OpenOptions, Source, join, listen, open,
};
use serialport::{SerialPort, TTYPort};

/// Far more than anything here takes; reached only by a failure.
const PATIENCE: Duration = Duration::from_secs(20);

fn spec(text: &str) -> EndpointSpec {
    text.parse().unwrap()
}

fn talk(text: &str) -> Box<dyn Endpoint> {
    open(&spec(text), &OpenOptions::default()).unwrap_or_else(|fail| panic!("{text}: {fail}"))
}

/// Items until `enough` says so of what came so far.
fn items(source: &mut dyn Source, mut enough: impl FnMut(&[Item]) -> bool) -> Vec<Item> {
    let (mut found, start) = (Vec::new(), Instant::now());
    while !enough(&found) {
        assert!(start.elapsed() < PATIENCE, "only {found:?}");
        found.extend(source.next(Duration::from_millis(20)).unwrap());
        assert!(found.last() != Some(&Item::End) || enough(&found), "ended after {found:?}");
    }
    found
}

fn octets(items: &[Item]) -> Vec<u8> {
    let chunks = items.iter().filter_map(|item| match item {
        Item::Chunk(chunk) => Some(chunk.octets.as_slice()),
        _ => None,
    });
    chunks.collect::<Vec<_>>().concat()
}

fn gaps(items: &[Item]) -> Vec<&Gap> {
    items.iter().filter_map(|item| if let Item::Gap(gap) = item { Some(gap) } else { None }).collect()
}

fn hear(source: &mut dyn Source, wanted: &[u8]) -> Vec<Item> {
    let found = items(source, |found| octets(found).len() >= wanted.len());
    assert_eq!(octets(&found), wanted);
    found
}

fn wait_until(what: &str, mut there: impl FnMut() -> bool) {
    let start = Instant::now();
    while !there() {
        assert!(start.elapsed() < PATIENCE, "{what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Every octet, the troublesome ones also side by side.
fn all_octets() -> Vec<u8> {
    (0..=255).chain(*b"\r\n\x03\x04\x11\x13\x1a\x1c\x7f\xff\xff\0\0\r\r\n\n").collect()
}

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Place(tempfile::tempdir().unwrap())
    }
    fn of(&self, name: &str) -> String {
        self.0.path().join(name).display().to_string()
    }
}

#[test]
fn a_serial_device_and_a_twin_pass_every_octet_both_ways() {
    let place = Place::new();
    let path = place.of("dome");
    let mut twin = talk(&format!("twin:{path}"));
    assert!(!twin.present());
    let mut device = talk(&format!("{path}@123457,8N1"));
    wait_until("the twin sees its user", || twin.present());
    for _ in 0..3 {
        device.write(&all_octets()).unwrap();
        hear(twin.as_mut(), &all_octets());
        twin.write(&all_octets()).unwrap();
        hear(device.as_mut(), &all_octets());
    }
    assert_eq!(device.ports()[0].line.unwrap().to_string(), "123457,8N1");
    drop(twin);
    assert!(fs::symlink_metadata(&path).is_err(), "the link is removed");
    let found = items(device.as_mut(), |found| !gaps(found).is_empty());
    assert!(gaps(&found)[0].to.is_none());
}

#[test]
fn a_twin_outlives_its_users_and_keeps_no_octets_for_the_next() {
    let place = Place::new();
    let path = place.of("dome");
    let mut twin = talk(&format!("twin:{path}"));
    twin.write(b"nobody is there").unwrap();
    for turn in 0..3 {
        // A user without any idea of raw mode: plain open, read, write, close.
        let mut user = fs::OpenOptions::new().read(true).write(true).open(&path).unwrap();
        wait_until("the twin sees its user", || twin.present());
        user.write_all(&all_octets()).unwrap();
        hear(twin.as_mut(), &all_octets());
        twin.write(&all_octets()).unwrap();
        let mut read = vec![0; all_octets().len()];
        user.read_exact(&mut read).unwrap();
        assert_eq!(read, all_octets(), "turn {turn}");
        twin.write(b"not read by this user").unwrap();
        drop(user);
        let found = items(twin.as_mut(), |found| !gaps(found).is_empty());
        assert_eq!(gaps(&found).len(), 1);
        wait_until("the twin sees that its user is gone", || !twin.present());
    }
}

#[test]
fn a_twin_replaces_a_dead_link_and_nothing_else() {
    let place = Place::new();
    let path = place.of("dome");
    symlink("/dev/pts/no-such", &path).unwrap();
    drop(talk(&format!("twin:{path}")));
    fs::write(&path, "notes of the night").unwrap();
    let fail = open(&spec(&format!("twin:{path}")), &OpenOptions::default()).err().unwrap();
    assert!(fail.to_string().contains("something is there already"), "{fail}");
    assert_eq!(fs::read_to_string(&path).unwrap(), "notes of the night");
    // A link to a disk that is not there at the moment is not ours to remove.
    let away = place.of("away");
    symlink("/no-such-disk/night", &away).unwrap();
    let fail = open(&spec(&format!("twin:{away}")), &OpenOptions::default()).err().unwrap();
    assert!(fail.to_string().contains("something is there already"), "{fail}");
    assert_eq!(fs::read_link(&away).unwrap(), Path::new("/no-such-disk/night"));
}

/// A device that can be pulled out and put back: a pseudo-terminal under a path of ours.
fn plug_in(path: &str) -> TTYPort {
    let (board, device) = TTYPort::pair().unwrap();
    let name = device.name().unwrap();
    drop(device);
    let _ = fs::remove_file(path);
    symlink(name, path).unwrap();
    board
}

#[test]
fn an_unplugged_device_is_waited_for_and_the_gap_is_told() {
    let place = Place::new();
    let path = place.of("ttyDome0");
    let mut board = plug_in(&path);
    let mut device = talk(&path);
    board.write_all(b"before").unwrap();
    hear(device.as_mut(), b"before");
    for turn in 0..2 {
        fs::remove_file(&path).unwrap();
        drop(board);
        let found = items(device.as_mut(), |found| !gaps(found).is_empty());
        let open = gaps(&found)[0].clone();
        assert!(open.to.is_none() && open.why.contains("closed by the other side"), "{open:?}");
        wait_until("absence is seen", || !device.present());
        device.write(b"into the void").unwrap();
        board = plug_in(&path);
        let found = items(device.as_mut(), |found| !gaps(found).is_empty());
        let closed = gaps(&found)[0];
        assert_eq!((closed.from, &closed.why), (open.from, &open.why));
        assert!(closed.to.unwrap() >= open.from);
        wait_until("the device is back", || device.present());
        board.write_all(b"after").unwrap();
        hear(device.as_mut(), b"after");
        device.write(b"heard").unwrap();
        let mut read = [0; 5];
        board.read_exact(&mut read).unwrap();
        assert_eq!(&read, b"heard", "turn {turn}");
    }
}

#[test]
fn a_loss_can_be_the_end() {
    let place = Place::new();
    let path = place.of("ttyDome0");
    let board = plug_in(&path);
    let mut device = open(&spec(&path), &OpenOptions { loss: Loss::End, ..Default::default() }).unwrap();
    drop(board);
    let found = items(device.as_mut(), |found| found.last() == Some(&Item::End));
    assert_eq!(gaps(&found).len(), 1);
    assert_eq!(device.next(Duration::ZERO).unwrap(), Some(Item::End));
}

#[test]
fn what_cannot_be_opened_says_why() {
    let place = Place::new();
    let told = |text: &str| open(&spec(text), &OpenOptions::default()).err().unwrap().to_string();
    assert!(told("/dev/ttyNoSuch9").contains("there is no /dev/ttyNoSuch9"));
    assert!(told("/dev/ttyNoSuch9").lines().any(|line| line.contains("next:")));
    assert!(
        told("/dev/null").contains("cannot set up") || told("/dev/null").contains("Inappropriate"),
        "{}",
        told("/dev/null")
    );
    fs::write(place.of("notes"), "x").unwrap();
    assert!(told(&place.of("notes")).contains("is a file"));
    assert!(told(&format!("{}@9600", place.of("notes"))).contains("no serial device"));
    assert!(told("tcp:127.0.0.1:1").contains("nobody listens"));
    let path = place.of("dome");
    let twin = talk(&format!("twin:{path}"));
    let _first = talk(&path);
    assert!(told(&path).contains("is in use"), "{}", told(&path));
    drop(twin);
}

/// A port that is free now, or nearly certainly.
fn free_port() -> u16 {
    std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

#[test]
fn connections_carry_every_octet_and_are_made_again() {
    let port = free_port();
    let mut server = talk(&format!("await:{port}"));
    for turn in 0..3 {
        let mut client = talk(&format!("tcp:127.0.0.1:{port}"));
        client.write(&all_octets()).unwrap();
        hear(server.as_mut(), &all_octets());
        server.write(&all_octets()).unwrap();
        hear(client.as_mut(), &all_octets());
        drop(client);
        let found = items(server.as_mut(), |found| !gaps(found).is_empty());
        assert!(gaps(&found)[0].why.contains("closed the connection"), "turn {turn}");
    }
    drop(server);
    // The side that dials waits for the other to come back.
    let server = talk(&format!("await:{port}"));
    let mut client = talk(&format!("tcp:127.0.0.1:{port}"));
    drop(server);
    items(client.as_mut(), |found| gaps(found).len() == 1);
    let mut server = talk(&format!("await:{port}"));
    items(client.as_mut(), |found| gaps(found).iter().any(|gap| gap.to.is_some()));
    wait_until("connected", || client.present() && server.present());
    server.write(b"again").unwrap();
    hear(client.as_mut(), b"again");
}

#[test]
fn datagrams_stay_whole() {
    let (near, far) = (free_port(), free_port());
    let mut desk = talk(&format!("udp:127.0.0.1:{far}@{near}"));
    let mut mast = talk(&format!("udp:127.0.0.1:{near}@{far}"));
    let sizes = [1, 7, 256, 1, 8192];
    for size in sizes {
        desk.write(&vec![0xA5; size]).unwrap();
    }
    let found = items(mast.as_mut(), |found| octets(found).len() == sizes.iter().sum::<usize>());
    let seen: Vec<_> = found
        .iter()
        .filter_map(|item| if let Item::Chunk(chunk) = item { Some(chunk.octets.len()) } else { None })
        .collect();
    assert_eq!(seen, sizes);
    assert_eq!(mast.ports()[0].wiring.unwrap().framing.name(), "datagram");
    mast.write(b"weather").unwrap();
    hear(desk.as_mut(), b"weather");
}

#[test]
fn joined_endpoints_pass_everything_on_and_tell_of_it() {
    let place = Place::new();
    let (device, program) = (place.of("ttyDome0"), place.of("dome"));
    let mut board = plug_in(&device);
    let mut tap = join(&spec(&device), &spec(&format!("twin:{program}")), &OpenOptions::default()).unwrap();
    let mut user = talk(&program);
    let start = Instant::now();
    // Until the tap has seen the user, octets toward it are dropped.
    let mut heard = Vec::new();
    while heard.is_empty() {
        assert!(start.elapsed() < PATIENCE);
        board.write_all(b"?").unwrap();
        heard.extend(octets(&user.next(Duration::from_millis(20)).unwrap().into_iter().collect::<Vec<_>>()));
    }
    user.write(&all_octets()).unwrap();
    let mut read = vec![0; all_octets().len()];
    board.read_exact(&mut read).unwrap();
    assert_eq!(read, all_octets());
    hear(tap.second.as_mut(), &all_octets());
    board.write_all(&all_octets()).unwrap();
    let all = items(user.as_mut(), |found| octets(found).ends_with(&all_octets()));
    assert!(
        octets(&all).iter().take_while(|octet| **octet == b'?').count() + all_octets().len()
            == octets(&all).len()
    );
    items(tap.first.as_mut(), |found| octets(found).ends_with(&all_octets()));
    assert!(tap.delays.count() >= 2 && tap.delays.within(50) <= Some(tap.delays.worst()));
}

#[test]
fn a_capture_is_a_source() {
    let place = Place::new();
    let path = place.of("night.pcapng");
    let fail = listen(&spec(&path), &OpenOptions::default()).err().unwrap();
    assert!(fail.to_string().contains("there is no"), "{fail}");
    let mut writer = bellwire_cli::capture::Writer::new();
    writer.section();
    writer.port(&bellwire_cli::endpoint::PortInfo::named("/dev/ttyUSB0"));
    let chunk = bellwire_cli::endpoint::Chunk {
        at: 5,
        port: 0,
        direction: bellwire_cli::endpoint::Direction::Out,
        octets: b"\0\x02".to_vec(),
    };
    writer.chunk(&chunk);
    writer.chunk(&chunk);
    let whole = writer.octets().len();
    fs::write(&path, &writer.octets()[..whole - 3]).unwrap();
    let mut source = listen(&spec(&path), &OpenOptions::default()).unwrap();
    let found = items(source.as_mut(), |found| found.last() == Some(&Item::End));
    assert_eq!(found[0], Item::Chunk(chunk));
    assert!(matches!(&found[1], Item::Note(note) if note.text.contains("ends inside a block")), "{found:?}");
    assert_eq!(source.ports()[0].name, "/dev/ttyUSB0");
    assert!(Path::new(&path).exists());
}
