//! The command `ports`: the serial devices that are there, and who they are.

use std::path::Path;

use serde::Serialize;

use crate::{
    args::ports::PortsArgs,
    endpoint::{
        devices::{Device, Devices},
        hindrance,
    },
    exit::Exit,
    fail::Fail,
    lines,
    shell::Shell,
};

/// Runs `ports`.
///
/// # Errors
/// If the output cannot be written.
pub fn run(args: &PortsArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    list(&Devices::default(), args, shell)
}

/// Lists the devices of a device tree.
///
/// # Errors
/// If the output cannot be written.
pub fn list(devices: &Devices, args: &PortsArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let found = devices.list();
    if found.is_empty() {
        shell.remark("no serial device is there; is it plugged in, with a cable that carries data?");
    }
    for device in &found {
        let hindrance = hindrance(&device.path);
        if args.json {
            let record = Record { record: "port", device, hindrance };
            let line =
                serde_json::to_string(&record).map_err(|error| Fail::new(Exit::Io, error.to_string()))?;
            shell.line(line)?;
        } else {
            shell.line(text(device, hindrance.as_deref()))?;
        }
    }
    Ok(Exit::Good)
}

#[derive(Serialize)]
struct Record<'a> {
    record: &'static str,
    #[serde(flatten)]
    device: &'a Device,
    /// Why it cannot be opened now.
    hindrance: Option<String>,
}

/// A device in a few lines of 80 columns.
fn text(device: &Device, hindrance: Option<&str>) -> String {
    let mut out = vec![format!("{}  {}", device.path.display(), what(device)).trim_end().to_string()];
    let mut row = |name: &str, text: String| out.push(lines::wrap(&format!("  {name:<9}"), &text));
    if let (Some(vendor), Some(product)) = (&device.vendor, &device.product) {
        let serial = device
            .serial
            .as_ref()
            .map_or_else(|| ", no serial number".into(), |serial| format!(", serial number {serial}"));
        let interface =
            device.interface.as_ref().map_or_else(String::new, |number| format!(", interface {number}"));
        row("usb", plain(&format!("{vendor}:{product}{serial}{interface}")));
    }
    for (name, link) in [("by-id", &device.by_id), ("by-path", &device.by_path)] {
        if let Some(link) = link {
            row(name, plain(&link.display().to_string()));
        }
    }
    if let Some(ms @ 2..) = device.latency_timer {
        row(
            "latency",
            format!("gathers octets for up to {ms} ms; 1 ms: echo 1 | sudo tee {}", timer(device)),
        );
    }
    row("state", hindrance.map_or_else(|| "free".into(), plain));
    out.join("\n")
}

fn what(device: &Device) -> String {
    match (device.title(), &device.driver) {
        (title, Some(driver)) if title.is_empty() => format!("({driver})"),
        (title, Some(driver)) => format!("{title} ({driver})"),
        (title, None) => title,
    }
}

/// Where the latency timer of a USB adapter is set.
fn timer(device: &Device) -> String {
    let name = device.path.file_name().unwrap_or_default();
    Path::new("/sys/bus/usb-serial/devices").join(name).join("latency_timer").display().to_string()
}

/// Without what would act on a terminal: devices name themselves.
fn plain(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).collect()
}
