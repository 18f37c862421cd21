//! What to take care of outdoors, wherever figures send somebody: the README's own words.

/// Who comes first.
pub const FIRST: &str = "These are the usual ones; local rules and people licensed for the work come first.";

/// The usual cautions, a sentence or two each.
pub const CAUTIONS: [&str; 7] = [
    "Look where you walk, not at the screen. Stop to read.",
    "Roofs, ladders, masts: not alone, not in wind, not near overhead lines; leave it to those trained for it.",
    "In thunder, and while it is near, come down and go in. A mast and a wire in a field draw lightning.",
    "Roads, water, machines and livestock do not know that you are measuring.",
    "Ask before you walk on other people's land, and leave gates as you found them.",
    "Radiated power is limited by law, aerial gain included; a better aerial may need a lower transmit power. Look up the limit where you are \
     before raising either.",
    "Lithium batteries: keep them dry, do not charge them in the cold or leave them in the sun, do not use a swollen one.",
];

/// The same in a line, for a table.
pub const IN_SHORT: &str = "look where you walk; roofs, ladders and masts not alone, not in wind, not near overhead lines, none of it in thunder; mind roads, \
                            water, machines and livestock; ask before you walk on other people's land; local rules and people licensed for the work come first";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_are_those_of_the_readme() {
        let words = |text: &str| text.split_whitespace().collect::<Vec<&str>>().join(" ");
        let readme = words(include_str!("../../README.md"));
        for caution in CAUTIONS.iter().chain([&FIRST]) {
            assert!(readme.contains(&words(caution)), "{caution}");
        }
    }
}
