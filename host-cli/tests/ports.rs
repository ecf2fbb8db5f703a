//! `ports` on a device tree of our own making, laid out as Linux does under `/sys/class/tty` and `/dev/serial`.

use std::{fs, os::unix::fs::symlink, path::Path};

use bellwire_cli::{
    args::ports::PortsArgs,
    cmd::ports::list,
    endpoint::devices::Devices,
    exit::Exit,
    shell::{Shell, Stop},
};

fn put(place: &Path, files: &[(&str, &str)]) {
    fs::create_dir_all(place).unwrap();
    for (name, text) in files {
        fs::write(place.join(name), text).unwrap();
    }
}

/// A tree with two USB adapters, a board with two interfaces, a line of the computer itself and what is no device.
fn tree(root: &Path) -> Devices {
    let (sys, dev) = (root.join("sys"), root.join("dev"));
    let class = sys.join("class/tty");
    let adapters = [("1-1", "ttyUSB2", "0007", "16\n"), ("1-2", "ttyUSB10", "0008\u{1b}[31m", "1\n")];
    for (bus, name, serial, timer) in adapters {
        let usb = sys.join("devices/usb1").join(bus);
        put(
            &usb,
            &[
                ("idVendor", "1209\n"),
                ("idProduct", "0001\n"),
                ("serial", serial),
                ("manufacturer", "Porch"),
                ("product", "Dome cable\n"),
            ],
        );
        let port = usb.join(format!("{bus}:1.0/{name}"));
        put(&port, &[("latency_timer", timer)]);
        put(port.parent().unwrap(), &[("bInterfaceNumber", "00")]);
        put(&port.join("tty").join(name), &[("dev", "188:2")]);
        put(&sys.join("bus/usb-serial/drivers/adapter"), &[]);
        symlink(sys.join("bus/usb-serial/drivers/adapter"), port.join("driver")).unwrap();
        fs::create_dir_all(&class).unwrap();
        symlink(port.join("tty").join(name), class.join(name)).unwrap();
        symlink(&port, port.join("tty").join(name).join("device")).unwrap();
    }
    let board = sys.join("devices/usb1/1-3");
    put(&board, &[("idVendor", "1209"), ("idProduct", "0002"), ("product", "Focuser")]);
    for (interface, name) in [("00", "ttyACM0"), ("02", "ttyACM1")] {
        let port = board.join(format!("1-3:1.{interface}"));
        put(&port, &[("bInterfaceNumber", interface)]);
        put(&port.join("tty").join(name), &[]);
        symlink(port.join("tty").join(name), class.join(name)).unwrap();
        symlink(&port, port.join("tty").join(name).join("device")).unwrap();
    }
    let chip = sys.join("devices/platform/serial8250");
    for (name, kind) in [("ttyS0", "4"), ("ttyS1", "0")] {
        put(&chip.join("tty").join(name), &[("type", kind)]);
        symlink(chip.join("tty").join(name), class.join(name)).unwrap();
        symlink(&chip, chip.join("tty").join(name).join("device")).unwrap();
    }
    put(&class.join("tty0"), &[]);
    put(&class.join("console"), &[]);
    put(
        &dev,
        &["ttyUSB2", "ttyUSB10", "ttyACM0", "ttyACM1", "ttyS0", "ttyS1", "tty0"].map(|name| (name, "")),
    );
    fs::create_dir_all(dev.join("serial/by-id")).unwrap();
    symlink("../../ttyUSB2", dev.join("serial/by-id/usb-Porch_Dome_cable_0007-if00")).unwrap();
    Devices::at(sys, dev)
}

fn listed(devices: &Devices, json: bool) -> (String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut shell = Shell { out: &mut out, err: &mut err, stop: Stop::default() };
    assert_eq!(list(devices, &PortsArgs { json }, &mut shell), Ok(Exit::Good));
    (String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

#[test]
fn devices_tell_who_they_are() {
    let root = tempfile::tempdir().unwrap();
    let devices = tree(root.path());
    let found = devices.list();
    let names: Vec<_> =
        found.iter().map(|device| device.path.file_name().unwrap().to_str().unwrap()).collect();
    assert_eq!(names, ["ttyACM0", "ttyACM1", "ttyS0", "ttyUSB2", "ttyUSB10"]);
    let dome = &found[3];
    assert_eq!(dome.vendor.as_deref(), Some("1209"));
    assert_eq!(dome.serial.as_deref(), Some("0007"));
    assert_eq!(dome.title(), "Porch Dome cable");
    assert_eq!(
        (dome.driver.as_deref(), dome.latency_timer, dome.interface.as_deref()),
        (Some("adapter"), Some(16), Some("00"))
    );
    assert!(dome.by_id.as_ref().unwrap().ends_with("serial/by-id/usb-Porch_Dome_cable_0007-if00"));
    assert_eq!(devices.by_id(&dome.path), dome.by_id);
    assert_eq!((found[1].interface.as_deref(), found[1].product.as_deref()), (Some("02"), Some("0002")));
    assert_eq!(found[2].vendor, None);
}

#[test]
fn the_list_fits_the_screen_and_acts_on_no_terminal() {
    let root = tempfile::tempdir().unwrap();
    let (text, _) = listed(&tree(root.path()), false);
    let place = root.path().display().to_string();
    for line in text.lines() {
        assert!(line.replace(&place, "").chars().count() <= 80, "{line}");
    }
    assert!(!text.contains('\u{1b}'), "{text}");
    assert!(text.contains("1209:0001, serial number 0007, interface 00"), "{text}");
    assert!(text.contains("up to 16 ms"), "{text}");
}

#[test]
fn json_has_one_record_a_line() {
    let root = tempfile::tempdir().unwrap();
    let (json, _) = listed(&tree(root.path()), true);
    let records: Vec<serde_json::Value> =
        json.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(records.len(), 5);
    assert!(records.iter().all(|record| record["record"] == "port"));
    assert_eq!(records[3]["serial"], "0007");
    assert_eq!(records[3]["latency_timer"], 16);
}

#[test]
fn an_empty_tree_says_so() {
    let root = tempfile::tempdir().unwrap();
    let (text, remark) = listed(&Devices::at(root.path(), root.path()), false);
    assert_eq!(text, "");
    assert!(remark.contains("no serial device"), "{remark}");
}
