//! Serial devices that are there, and who they are, from the system's device tree.

use std::{
    fs::{read_dir, read_link, read_to_string},
    path::{Path, PathBuf},
};

/// Where the trees are; other places for tests.
#[derive(Debug, Clone)]
pub struct Devices {
    sys: PathBuf,
    dev: PathBuf,
}

impl Default for Devices {
    fn default() -> Self {
        Devices::at("/sys", "/dev")
    }
}

/// A serial device and its identity, as far as the system knows it.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Device {
    /// Its path.
    pub path: PathBuf,
    /// The name of its link under `serial/by-id`, which stays when the path changes.
    pub by_id: Option<PathBuf>,
    /// The name of its link under `serial/by-path`, which says where it is plugged in.
    pub by_path: Option<PathBuf>,
    /// USB vendor number, four hex digits.
    pub vendor: Option<String>,
    /// USB product number, four hex digits.
    pub product: Option<String>,
    /// Serial number of the USB device.
    pub serial: Option<String>,
    /// Name of the USB device's maker, as the device says.
    pub maker: Option<String>,
    /// Name of the USB device, as it says.
    pub model: Option<String>,
    /// Number of the USB interface, for devices with several ports.
    pub interface: Option<String>,
    /// Driver of the device.
    pub driver: Option<String>,
    /// Milliseconds for which the adapter gathers octets before it passes them on, where it says so.
    pub latency_timer: Option<u32>,
}

impl Device {
    /// Maker and model in one line, without control characters.
    #[must_use]
    pub fn title(&self) -> String {
        let words: Vec<_> = self.maker.iter().chain(&self.model).map(String::as_str).collect();
        words.join(" ").chars().filter(|c| !c.is_control()).collect()
    }
}

impl Devices {
    /// Trees at other places than `/sys` and `/dev`.
    pub fn at(sys: impl Into<PathBuf>, dev: impl Into<PathBuf>) -> Self {
        Devices { sys: sys.into(), dev: dev.into() }
    }

    /// All serial devices that have hardware behind them, by path, numbers counted as numbers.
    #[must_use]
    pub fn list(&self) -> Vec<Device> {
        let names = read_dir(self.sys.join("class/tty")).into_iter().flatten().flatten();
        let mut found: Vec<_> =
            names.filter_map(|name| self.device(&name.file_name().to_string_lossy())).collect();
        found.sort_by_key(|device| in_order(&device.path));
        found
    }

    /// The by-id link that points to this device, or the path itself if it is one.
    #[must_use]
    pub fn by_id(&self, path: &Path) -> Option<PathBuf> {
        self.link("serial/by-id", path)
    }

    fn link(&self, folder: &str, path: &Path) -> Option<PathBuf> {
        let target = path.canonicalize().ok()?;
        let links = read_dir(self.dev.join(folder)).ok()?.flatten();
        let mut found: Vec<_> = links
            .map(|link| link.path())
            .filter(|link| link.canonicalize().is_ok_and(|points| points == target))
            .collect();
        found.sort();
        found.into_iter().next()
    }

    fn device(&self, name: &str) -> Option<Device> {
        let class = self.sys.join("class/tty").join(name);
        let hardware = class.join("device").canonicalize().ok()?;
        let driver = link_name(&hardware.join("driver")).or_else(|| link_name(&hardware.join("subsystem")));
        let path = self.dev.join(name);
        // Lines of a PC that no chip answers to: type 0 (unknown).
        if text(&class.join("type")).as_deref() == Some("0") || !path.exists() {
            return None;
        }
        let mut device = Device {
            by_id: self.link("serial/by-id", &path),
            by_path: self.link("serial/by-path", &path),
            driver,
            latency_timer: text(&hardware.join("latency_timer")).and_then(|ms| ms.parse().ok()),
            path,
            ..Device::default()
        };
        // Up the tree: the USB interface first, then the USB device.
        for place in hardware.ancestors().take(LEVELS) {
            device.interface = device.interface.or_else(|| text(&place.join("bInterfaceNumber")));
            if let Some(vendor) = text(&place.join("idVendor")) {
                device.vendor = Some(vendor);
                device.product = text(&place.join("idProduct"));
                device.serial = text(&place.join("serial"));
                device.maker = text(&place.join("manufacturer"));
                device.model = text(&place.join("product"));
                break;
            }
        }
        Some(device)
    }
}

/// Levels of the tree between a port and its USB device, and some more.
const LEVELS: usize = 6;

fn text(path: &Path) -> Option<String> {
    let text = read_to_string(path).ok()?;
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_string())
}

fn link_name(path: &Path) -> Option<String> {
    Some(read_link(path).ok()?.file_name()?.to_string_lossy().into_owned())
}

/// `ttyUSB2` before `ttyUSB10`.
fn in_order(path: &Path) -> (String, u64) {
    let name = path.to_string_lossy();
    let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
    (stem.to_string(), name[stem.len()..].parse().unwrap_or(0))
}
