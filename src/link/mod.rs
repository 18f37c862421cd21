//! What a radio link is: boards, aerials, channels, echoes and the budget between them.

pub mod antenna;
