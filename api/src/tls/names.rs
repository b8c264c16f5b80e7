//! Under which names and addresses this machine is found in its own network, and which of them are local at all.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};

use super::TlsRefused;

/// Endings that no public name has: RFC 6762 (.local), RFC 8375 (.home.arpa), RFC 6761 (localhost), and the reserved
/// .internal; .lan is common practice of routers.
pub(super) const LOCAL_ENDINGS: [&str; 5] = ["local", "lan", "internal", "home.arpa", "localhost"];

/// Address ranges that stay inside a network, with the bits that name them: RFC 1918, 6598, 3927, 4193, 4291.
pub(super) const LOCAL_RANGES_4: [(Ipv4Addr, u8); 6] = [
    (Ipv4Addr::new(192, 168, 0, 0), 16),
    (Ipv4Addr::new(10, 0, 0, 0), 8),
    (Ipv4Addr::new(172, 16, 0, 0), 12),
    (Ipv4Addr::new(100, 64, 0, 0), 10),
    (Ipv4Addr::new(169, 254, 0, 0), 16),
    (Ipv4Addr::new(127, 0, 0, 0), 8),
];
pub(super) const LOCAL_RANGES_6: [(Ipv6Addr, u8); 3] = [
    (Ipv6Addr::new(0xfc00, 0, 0, 0, 0, 0, 0, 0), 7),
    (Ipv6Addr::new(0xfe80, 0, 0, 0, 0, 0, 0, 0), 10),
    (Ipv6Addr::LOCALHOST, 128),
];

/// In which local range an address lies; the likelier ones have the smaller numbers.
fn range_of(address: IpAddr) -> Option<usize> {
    match address {
        IpAddr::V4(address) => {
            let within = |(start, bits): &(Ipv4Addr, u8)| {
                let shift = u32::from(32 - *bits);
                u32::from(address) >> shift == u32::from(*start) >> shift
            };
            LOCAL_RANGES_4.iter().position(within)
        }
        IpAddr::V6(address) => {
            let within = |(start, bits): &(Ipv6Addr, u8)| {
                let shift = u32::from(128 - *bits);
                u128::from(address) >> shift == u128::from(*start) >> shift
            };
            LOCAL_RANGES_6
                .iter()
                .position(within)
                .map(|at| at + LOCAL_RANGES_4.len())
        }
    }
}

/// Whether our own authority may vouch for a name.
pub(super) fn is_local(name: &str) -> bool {
    if let Ok(address) = name.parse::<IpAddr>() {
        return range_of(address).is_some();
    }
    let is_label = |label: &str| !label.is_empty() && label.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    let ends = |ending: &str| name == ending || name.ends_with(&format!(".{ending}"));
    name.len() <= 253 && name.split('.').all(is_label) && LOCAL_ENDINGS.iter().any(|ending| ends(ending))
}

/// An address as it stands before a port.
pub(super) fn in_address(name: &str) -> String {
    match name.parse::<Ipv6Addr>() {
        Ok(address) => format!("[{address}]"),
        Err(_) => name.to_owned(),
    }
}

/// All names for the certificate: those asked for, the machine's addresses that `listen` covers, and itself.
pub(super) fn all(listen: IpAddr, wished: &[String]) -> Result<Vec<String>, TlsRefused> {
    if let Some(foreign) = wished.iter().find(|name| !is_local(name)) {
        return Err(TlsRefused::NotLocal(foreign.clone()));
    }
    let mut addresses = if listen.is_unspecified() {
        let found = if_addrs::get_if_addrs().map_err(TlsRefused::Interfaces)?;
        let covered = |address: &IpAddr| listen.is_ipv6() || address.is_ipv4();
        found.iter().map(if_addrs::Interface::ip).filter(covered).collect()
    } else {
        vec![listen]
    };
    // A link-local address of version 6 is of no use without the name of the interface.
    addresses.retain(|address| {
        range_of(*address).is_some() && !matches!(address, IpAddr::V6(six) if six.is_unicast_link_local())
    });
    addresses.sort_by_key(|address| (range_of(*address), *address));
    let mut names = wished.to_vec();
    names.extend(addresses.iter().map(IpAddr::to_string));
    names.extend(["localhost", "127.0.0.1", "::1"].map(str::to_owned));
    let mut seen = std::collections::BTreeSet::new();
    names.retain(|name| seen.insert(name.clone()));
    Ok(names)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn local_is_what_no_other_network_can_be_called() {
        for name in [
            "192.168.1.20",
            "10.0.0.1",
            "172.31.255.1",
            "fd00::7",
            "honey.local",
            "box.home.arpa",
            "localhost",
        ] {
            assert!(is_local(name), "{name}");
        }
        for name in [
            "172.32.0.1",
            "8.8.8.8",
            "2001:db8::1",
            "example.org",
            "local.example.org",
            "xlocal",
            ".local",
            "",
        ] {
            assert!(!is_local(name), "{name}");
        }
    }

    #[test]
    fn what_is_wished_comes_first_and_nothing_twice() {
        let wished = ["honey.local".to_owned(), "127.0.0.1".to_owned()];
        let names = all("192.168.1.20".parse().unwrap(), &wished).unwrap();
        assert_eq!(names, ["honey.local", "127.0.0.1", "192.168.1.20", "localhost", "::1"]);
        assert!(all("127.0.0.1".parse().unwrap(), &["example.org".to_owned()]).is_err());
    }
}
