//! Why a device cannot be opened, and what to do about it.

use std::{
    fs::{self, read_dir, read_link, read_to_string},
    io::{self, ErrorKind},
    os::unix::fs::MetadataExt,
    path::Path,
};

use rustix::{
    fs::{Access, access},
    process::{geteuid, getgroups},
};

use super::devices::Devices;
use crate::{exit::Exit, fail::Fail};

/// Turns the system's error into a sentence and the way out.
pub(super) fn opening(path: &Path, error: &io::Error, devices: &Devices) -> Fail {
    let shown = path.display();
    match error.kind() {
        ErrorKind::NotFound => missing(path, devices),
        ErrorKind::PermissionDenied => permission(path),
        ErrorKind::ResourceBusy => busy(path),
        ErrorKind::InvalidInput => Fail::new(Exit::Unavailable, format!("{shown} is no serial device"))
            .next("`bellwire ports` lists those that are there"),
        _ => Fail::new(Exit::Unavailable, format!("cannot open {shown}: {error}"))
            .next("is it plugged in? `bellwire ports` lists the devices that are there"),
    }
}

fn missing(path: &Path, devices: &Devices) -> Fail {
    let fail = Fail::new(Exit::Unavailable, format!("there is no {}", path.display()));
    let there: Vec<_> = devices.list().iter().map(|device| device.path.display().to_string()).collect();
    match there.as_slice() {
        [] => fail.at("no serial device is there at all").next("plug it in; is its cable one for data?"),
        [one] => fail
            .at(format!("the one device that is there: {one}"))
            .next("`bellwire ports` tells more about it"),
        some => {
            let (shown, rest) = some.split_at(some.len().min(6));
            let more = if rest.is_empty() { String::new() } else { format!(" and {} more", rest.len()) };
            fail.at(format!("there are {}{more}", shown.join(", ")))
                .next("`bellwire ports` tells more about them")
        }
    }
}

/// Who we are, and who may open a device.
#[derive(Debug, Clone)]
struct Rights {
    mode: u32,
    owner: String,
    group: String,
    user: String,
    /// The user is in the group, as the system's list says.
    listed: bool,
    /// This login has the group.
    holds: bool,
}

fn permission(path: &Path) -> Fail {
    let Ok(device) = path.metadata() else {
        return Fail::new(Exit::Permission, format!("no permission to open {}", path.display()));
    };
    let groups = read_to_string("/etc/group").unwrap_or_default();
    let users = read_to_string("/etc/passwd").unwrap_or_default();
    let user = name_of(&users, geteuid().as_raw());
    let group = name_of(&groups, device.gid());
    let rights = Rights {
        mode: device.mode(),
        owner: name_of(&users, device.uid()),
        listed: is_member(&groups, &group, &user),
        holds: getgroups().is_ok_and(|held| held.iter().any(|gid| gid.as_raw() == device.gid())),
        group,
        user,
    };
    explain(path, &rights)
}

/// The name that `/etc/passwd` or `/etc/group` gives a number: fields `name:x:number`.
fn name_of(list: &str, number: u32) -> String {
    let number = number.to_string();
    list.lines()
        .find_map(|line| {
            let mut fields = line.split(':');
            let name = fields.next()?;
            (fields.nth(1)? == number).then(|| name.to_string())
        })
        .unwrap_or(number)
}

fn is_member(groups: &str, group: &str, user: &str) -> bool {
    groups.lines().map(|line| line.split(':').collect::<Vec<_>>()).any(|fields| {
        fields.first() == Some(&group)
            && fields.get(3).is_some_and(|all| all.split(',').any(|one| one == user))
    })
}

fn explain(path: &Path, rights: &Rights) -> Fail {
    let Rights { mode, owner, group, user, .. } = rights;
    let fail = Fail::new(Exit::Permission, format!("no permission to open {}", path.display()))
        .at(format!("it belongs to user {owner}, group {group}; you are {user}"));
    let open_to_group = mode & 0o060 == 0o060;
    match (open_to_group, rights.listed, rights.holds) {
        (true, true, false) => {
            fail.next(format!("you are in {group}, but this login is older: log out and in again"))
        }
        (true, false, false) => {
            fail.next(format!("sudo usermod -aG {group} {user}")).next("then log out and in again")
        }
        _ => fail.next(format!("ask {owner} for access; do not open the device to everyone")),
    }
}

/// The device is in use by somebody.
pub(super) fn busy(path: &Path) -> Fail {
    let fail = Fail::new(Exit::Unavailable, format!("{} is in use", path.display()));
    let holders = holders(path);
    if holders.is_empty() {
        return fail
            .at("by a program that cannot be seen from here")
            .next(format!("sudo fuser -v {}", path.display()));
    }
    fail.at(format!("by {}", holders.join(", ")))
        .next("end that program, or put a tap between: `bellwire tap DEVICE twin:PATH`")
}

/// Whether we could open a device now; if not, why, in a few words.
pub(crate) fn hindrance(path: &Path) -> Option<String> {
    if access(path, Access::READ_OK | Access::WRITE_OK).is_err() {
        let group = path
            .metadata()
            .map(|device| name_of(&read_to_string("/etc/group").unwrap_or_default(), device.gid()));
        return Some(
            group.map_or_else(|_| "gone".into(), |group| format!("no permission (its group is {group})")),
        );
    }
    let holders = holders(path);
    (!holders.is_empty()).then(|| format!("in use by {}", holders.join(", ")))
}

/// Processes other than ours that have the device open, as far as `/proc` shows them: number and command.
pub(super) fn holders(path: &Path) -> Vec<String> {
    let Ok(device) = path.canonicalize() else { return Vec::new() };
    holders_in(Path::new("/proc"), &device, std::process::id())
}

fn holders_in(proc: &Path, device: &Path, own: u32) -> Vec<String> {
    let mut found: Vec<(u32, String)> = Vec::new();
    for process in read_dir(proc).into_iter().flatten().flatten() {
        let Some(number) = process.file_name().to_str().and_then(|name| name.parse::<u32>().ok()) else {
            continue;
        };
        let open = read_dir(process.path().join("fd")).into_iter().flatten().flatten();
        if number != own
            && open.into_iter().any(|fd| read_link(fd.path()).is_ok_and(|target| target == device))
        {
            let command = fs::read(process.path().join("cmdline")).unwrap_or_default();
            found.push((number, shown(&command)));
        }
    }
    found.sort();
    found.into_iter().map(|(number, command)| format!("process {number} ({command})")).collect()
}

/// A command line as the system keeps it, in short and harmless to print.
fn shown(command: &[u8]) -> String {
    let words: Vec<_> = command.split(|octet| *octet == 0).filter(|word| !word.is_empty()).collect();
    let mut text: String =
        String::from_utf8_lossy(&words.join(&b' ')).chars().filter(|c| !c.is_control()).collect();
    if text.chars().count() > 40 {
        text = text.chars().take(37).chain("...".chars()).collect();
    }
    if text.is_empty() { "?".into() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    fn rights() -> Rights {
        Rights {
            mode: 0o20660,
            owner: "root".into(),
            group: "dialout".into(),
            user: "observer".into(),
            listed: false,
            holds: false,
        }
    }

    fn told(rights: &Rights) -> String {
        explain(Path::new("/dev/ttyUSB0"), rights).to_string()
    }

    #[test]
    fn the_group_and_the_command_are_named() {
        let text = told(&rights());
        assert!(
            text.contains("group dialout") && text.contains("sudo usermod -aG dialout observer"),
            "{text}"
        );
        let text = told(&Rights { listed: true, ..rights() });
        assert!(text.contains("log out and in again") && !text.contains("usermod"), "{text}");
        let text = told(&Rights { mode: 0o20600, ..rights() });
        assert!(text.contains("ask root") && !text.contains("usermod"), "{text}");
    }

    #[test]
    fn numbers_become_names() {
        let groups = "root:x:0:\ndialout:x:20:porch,observer\n";
        assert_eq!((name_of(groups, 20).as_str(), name_of(groups, 7).as_str()), ("dialout", "7"));
        assert!(is_member(groups, "dialout", "observer") && !is_member(groups, "dialout", "obs"));
    }

    #[test]
    fn holders_are_found_in_a_tree_of_processes() {
        let proc = tempfile::tempdir().unwrap();
        let device = Path::new("/dev/ttyUSB7");
        for (number, target, command) in [
            ("41", "/dev/null", "sleep\0"),
            ("9", "/dev/ttyUSB7", "term\0-b\x001\x1b[31m"),
            ("77", "/dev/ttyUSB7", ""),
        ] {
            let place = proc.path().join(number);
            std::fs::create_dir_all(place.join("fd")).unwrap();
            symlink(target, place.join("fd/3")).unwrap();
            std::fs::write(place.join("cmdline"), command).unwrap();
        }
        assert_eq!(holders_in(proc.path(), device, 5), ["process 9 (term -b 1[31m)", "process 77 (?)"]);
        assert_eq!(holders_in(proc.path(), device, 9), ["process 77 (?)"]);
    }
}
