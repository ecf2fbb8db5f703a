//! Recordings on real files: rotation, full disks, and what is never overwritten.

use std::{
    collections::VecDeque,
    fs::{self, File},
    path::{Path, PathBuf},
    time::Duration,
};

use bellwire_cli::{
    capture::{Existing, Reader, Record, Recorded, Recorder, Tail},
    endpoint::{Chunk, Direction, Item, PortInfo, Source},
    exit::Exit,
    fail::Fail,
};

fn chunk(at: u64) -> Item {
    let len = usize::try_from(at * 37 % 97).unwrap();
    Item::Chunk(Chunk {
        at,
        port: u16::try_from(at % 2).unwrap(),
        direction: Direction::In,
        octets: vec![0x5A; len],
    })
}

fn ports() -> [PortInfo; 2] {
    ["/dev/ttyUSB0", "udp:mast:7000"].map(PortInfo::named)
}

/// The times of all chunks of a file that must end whole, and the names of its ports.
fn times(path: &Path) -> (Vec<u64>, Vec<String>) {
    let mut reader = Reader::new(File::open(path).unwrap()).unwrap();
    let mut times = Vec::new();
    loop {
        match reader.read().unwrap() {
            Record::Chunk { at, port, octets, .. } => {
                let item = Item::Chunk(Chunk { at, port, direction: Direction::In, octets: octets.to_vec() });
                assert_eq!(item, chunk(at));
                times.push(at);
            }
            Record::Gap(_) | Record::Note(_) => {}
            Record::End(tail) => {
                assert_eq!(tail, Tail::Whole);
                return (times, reader.ports().iter().map(|port| port.name.clone()).collect());
            }
        }
    }
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found: Vec<_> = fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    found.sort();
    found
}

#[test]
fn each_file_of_a_row_reads_alone_and_together_they_hold_everything() {
    let folder = tempfile::tempdir().unwrap();
    let wanted = folder.path().join("night.pcapng");
    let taken = folder.path().join("night-002.pcapng");
    fs::write(&taken, "notes").unwrap();
    let mut recorder = Recorder::create(&wanted, Some(4000), Existing::Keep).unwrap();
    for at in 0..1000 {
        // The second port shows up late, inside a file.
        let known = if at < 331 { &ports()[..1] } else { &ports()[..] };
        let item = if at < 331 { chunk(at * 2) } else { chunk(at + 331) };
        recorder.item(&item, known).unwrap();
        if at % 7 == 0 {
            recorder.flush().unwrap();
        }
    }
    recorder.finish().unwrap();
    assert!(recorder.told().contains("1000 pieces"), "{}", recorder.told());
    assert_eq!(fs::read_to_string(&taken).unwrap(), "notes");
    let row: Vec<_> = files(folder.path()).into_iter().filter(|path| *path != taken).collect();
    assert!(row.len() > 10, "{row:?}");
    let mut all = Vec::new();
    for path in &row {
        let len = fs::metadata(path).unwrap().len();
        assert!(len <= 4000, "{} has {len} octets", path.display());
        let (times, names) = times(path);
        assert!(names.first().is_none_or(|name| name == "/dev/ttyUSB0") && names.len() <= 2, "{names:?}");
        all.extend(times);
    }
    let given: Vec<u64> = (0..331).map(|at| at * 2).chain((331..1000).map(|at| at + 331)).collect();
    assert_eq!(all, given);
}

#[test]
fn a_capture_that_is_there_is_left_alone_unless_asked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("night.pcapng");
    fs::write(&path, "notes of the night").unwrap();
    let fail = Recorder::create(&path, None, Existing::Keep).unwrap_err();
    assert_eq!(fail.exit(), Exit::Usage);
    assert_eq!(fs::read_to_string(&path).unwrap(), "notes of the night");
    let mut recorder = Recorder::create(&path, None, Existing::Replace).unwrap();
    recorder.item(&chunk(2), &ports()).unwrap();
    recorder.finish().unwrap();
    assert_eq!(times(&path).0, [2]);
    let fail =
        Recorder::create(&folder.path().join("no/such/night.pcapng"), None, Existing::Keep).unwrap_err();
    assert!(fail.to_string().contains("does its folder exist"), "{fail}");
}

#[test]
fn a_full_disk_is_named() {
    // Linux: every write to this device fails as on a full disk.
    let fail = Recorder::create(Path::new("/dev/full"), None, Existing::Replace).unwrap_err();
    assert_eq!(fail.exit(), Exit::Io);
    assert!(fail.to_string().contains("the disk is full"), "{fail}");
}

/// A source that gives so many items, then ends or fails.
struct Given {
    items: VecDeque<Item>,
    ports: [PortInfo; 2],
    fail: Option<Fail>,
}

impl Given {
    fn boxed(count: u64, fail: Option<Fail>) -> Box<Self> {
        Box::new(Given { items: (0..count).map(chunk).collect(), ports: ports(), fail })
    }
}

impl Source for Given {
    fn next(&mut self, _wait: Duration) -> Result<Option<Item>, Fail> {
        match self.items.pop_front() {
            Some(item) => Ok(Some(item)),
            None => self.fail.clone().map_or(Ok(Some(Item::End)), Err),
        }
    }
    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }
    fn is_live(&self) -> bool {
        false
    }
}

#[test]
fn what_has_been_given_on_is_in_the_file_already() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("night.pcapng");
    let recorder = Recorder::create(&path, None, Existing::Keep).unwrap();
    let mut source = Recorded::new(Given::boxed(5000, None), recorder);
    for at in 0..5000 {
        let item = loop {
            if let Some(item) = source.next(Duration::from_secs(1)).unwrap() {
                break item;
            }
        };
        assert_eq!(item, chunk(at));
        if at % 500 == 0 {
            // Read while it grows, as after a kill at this instant; the tail may be torn, what was given is there.
            let octets = fs::read(&path).unwrap();
            let mut reader = Reader::new(octets.as_slice()).unwrap();
            let mut seen = 0;
            while let Record::Chunk { .. } = reader.read().unwrap() {
                seen += 1;
            }
            assert!(seen > at, "{seen} of {at}");
        }
    }
    assert_eq!(source.next(Duration::from_secs(20)).unwrap(), Some(Item::End));
    assert_eq!(times(&path).0, (0..5000).collect::<Vec<_>>());
}

#[test]
fn what_ends_a_source_early_comes_after_its_items() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("night.pcapng");
    let recorder = Recorder::create(&path, None, Existing::Keep).unwrap();
    let fail = Fail::new(Exit::Unavailable, "lost for good");
    let mut source = Recorded::new(Given::boxed(3, Some(fail.clone())), recorder);
    let mut seen = Vec::new();
    let end = loop {
        match source.next(Duration::from_secs(1)) {
            Ok(item) => seen.extend(item),
            Err(fail) => break fail,
        }
    };
    assert_eq!(end, fail);
    assert_eq!(seen, (0..3).map(chunk).collect::<Vec<_>>());
    assert_eq!(times(&path).0, [0, 1, 2]);
    assert!(source.closing().concat().contains("recorded 3 pieces"));
}
