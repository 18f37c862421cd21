//! Says what a line sounds like, so that it can be found out which port is which.

use crate::sources::Heard;
use crate::wire::{NodeLine, NodeRecord, nmea, node};

/// What a line sounds like.
pub fn hear(line: &[u8]) -> Heard {
    if matches!(line.first(), Some(b'$' | b'!')) {
        return if nmea::framing::sentences(line).next().is_some() {
            Heard::Position(None)
        } else {
            Heard::Nothing
        };
    }
    match node::read(line) {
        Ok(NodeLine::Record {
            record: NodeRecord::Hello(hello),
            ..
        }) => {
            let board = hello.board;
            let name = hello
                .boot
                .map_or_else(|| board.clone(), |boot| format!("{board} boot {boot}"));
            Heard::Node(Some(name))
        }
        Ok(NodeLine::Record { .. }) => Heard::Node(None),
        _ => Heard::Nothing,
    }
}
