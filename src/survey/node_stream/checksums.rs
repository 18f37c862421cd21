//! Lines without a checksum, where the boot's others carry one.

use super::stream::NodeStream;
use crate::wire::Hello;

/// How many lines of a boot must carry a checksum before one without is malformed.
const EXPECTED_AFTER: u32 = 3;

impl NodeStream {
    /// Whether a line without checksum is malformed now. `hello` is the identity it claims, if it is a hello.
    pub fn wants_checksum(&self, hello: Option<&Hello>) -> bool {
        let Some(boot) = self.current() else { return false };
        let same = hello.is_none_or(|hello| !self.names_another(hello));
        same && self.announced.is_none() && boot.checksummed >= EXPECTED_AFTER
    }

    /// Counts a line that carried its checksum.
    pub fn count_checksum(&mut self) {
        if self.announced.is_some() {
            self.announced_checksums += 1;
        } else if let Some(index) = self.current {
            self.boots[index].checksummed += 1;
        }
    }
}
