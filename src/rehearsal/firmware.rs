//! What a board prints: its records in the manner of its firmware.

use super::boards::{Board, Firmware, Form};
use super::orchard::Site;
use super::script::RATE;
use crate::units::Dbm;
use crate::wire::{Echo, Hello, Lost, NodeRecord, node};

impl Firmware {
    /// The line for a record, line end included; `None` where this firmware keeps silent.
    pub fn line(&self, record: &NodeRecord) -> Option<Vec<u8>> {
        if matches!(record, NodeRecord::Lost(_)) && !self.says_lost {
            return None;
        }
        let mut line = match self.form {
            Form::Text => node::line(record, self.checksum),
            Form::Json => node::json_line(record, self.checksum),
        };
        line.push('\n');
        Some(line.into_bytes())
    }

    /// A ping's number as this firmware counts it.
    pub const fn counted(&self, n: u64) -> u64 {
        match self.wrap {
            Some(wrap) if wrap > 0 => n % wrap,
            _ => n,
        }
    }
}

impl Board {
    /// Who is speaking, in which boot.
    pub fn hello(&self, site: &Site, boot: u64) -> NodeRecord {
        NodeRecord::Hello(Hello {
            board: self.name.to_owned(),
            boot: Some(boot),
            fw: Some(self.firmware.version.to_owned()),
            radio: Some(site.radio.to_owned()),
            chan: Some(site.channel),
            mhz: Some(site.frequency),
            tx: Some(Dbm(self.tx)),
            rate: Some(RATE),
            wrap: self.firmware.wrap,
            reference: Some(self.reference),
        })
    }

    /// An answered ping: its number, whole dBm here and there, the round trip in microseconds, pings heard so far.
    pub fn echo(&self, n: u64, here: i32, there: i32, rtt_us: u64, heard: u64) -> NodeRecord {
        NodeRecord::Echo(Echo {
            n: self.firmware.counted(n),
            here: Some(Dbm(f64::from(here))),
            there: Some(Dbm(f64::from(there))),
            rtt_us: Some(rtt_us),
            heard: Some(heard),
            ..Echo::default()
        })
    }

    /// An unanswered ping.
    pub fn lost(&self, n: u64) -> NodeRecord {
        NodeRecord::Lost(Lost {
            n: self.firmware.counted(n),
            ..Lost::default()
        })
    }

    /// What it prints of its own accord as it starts: not records, and not all of it text.
    pub fn start_noise(&self) -> Vec<u8> {
        let mut noise = vec![0xFE, 0x00, 0x1B, b'[', b'2', b'J', b'\r', b'\n'];
        noise.extend_from_slice(
            format!(
                "## {} monitor {}: clock ok, flash ok\r\n",
                self.name, self.firmware.version
            )
            .as_bytes(),
        );
        noise.extend_from_slice(b"## radio calibrating ....... done\r\n");
        noise
    }
}

#[cfg(test)]
mod tests {
    use super::super::boards;
    use super::super::orchard::larkfield;
    use super::*;

    fn line(board: &Board, record: &NodeRecord) -> Option<String> {
        board.firmware.line(record).map(|line| String::from_utf8(line).unwrap())
    }

    #[test]
    fn each_firmware_writes_in_its_manner() {
        let of = |board: &Board| line(board, &board.echo(5001, -71, -74, 3120, 4990)).unwrap();
        assert_eq!(
            of(&boards::hazel()),
            "echo n=5001 here=-71 there=-74 rtt_us=3120 heard=4990\n"
        );
        assert_eq!(
            of(&boards::sorrel()),
            "{\"echo\":{\"n\":5001,\"here\":-71,\"there\":-74,\"rtt_us\":3120,\"heard\":4990}}\n"
        );
        assert!(of(&boards::thistle()).starts_with("echo n=905 here="));
        assert_eq!(line(&boards::thistle(), &boards::thistle().lost(7)), None);
        // Exclusive-or of the bytes of `lost n=7`, by hand: l^o=03 ^s=70 ^t=04 ^space=24 ^n=4A ^'='=77 ^'7'=40.
        assert_eq!(line(&boards::yew(), &boards::yew().lost(7)).unwrap(), "lost n=7 *40\n");
    }

    #[test]
    fn a_hello_names_what_the_board_is() {
        let (board, site) = (boards::thistle(), larkfield());
        let text = line(&board, &board.hello(&site, 18)).unwrap();
        let wanted =
            "hello board=thistle boot=18 fw=0.9 radio=802.11 chan=6 mhz=2437 tx_dbm=14 rate=10 wrap=4096 ref=0 *";
        assert!(text.starts_with(wanted), "{text}");
    }
}
