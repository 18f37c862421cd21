//! What a person must know beside the figures, as sentences with what to do, the most pressing first.
//!
//! ```text
//!  ! The GPS has been silent for 6 s. Check its cable; the walk goes on, these exchanges will have no position.
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::paint::{below, inset, put_wrapped};
use super::scene::Scene;
use super::theme::{Theme, Tone};
use crate::findings;
use crate::findings::trouble::Trouble;

/// The sentences that are due.
pub fn words(scene: &Scene<'_>) -> Vec<(String, Tone)> {
    let mut words: Vec<(String, Tone)> = Vec::new();
    let replay = scene.doing.is_replay();
    if let Some(over) = scene.around.over {
        words.push((format!("■ {over}"), Tone::Strong));
    }
    if scene.paused {
        let paused = if replay {
            "‖ Paused: nothing counted."
        } else {
            "‖ Paused: nothing counts until p is pressed again."
        };
        words.push((paused.to_owned(), Tone::Bad));
    }
    for trouble in &scene.troubles {
        let tone = if matches!(trouble, Trouble::Pending(_)) {
            Tone::Close
        } else {
            Tone::Bad
        };
        let sentence = if replay {
            trouble.afterwards()
        } else {
            trouble.sentence()
        };
        words.push((format!("! {sentence}"), tone));
    }
    let all_lost = scene
        .troubles
        .iter()
        .any(|trouble| matches!(trouble, Trouble::AllLost(_)));
    if !all_lost {
        let loss = if replay {
            findings::words::loss_afterwards
        } else {
            findings::words::loss
        };
        let said = scene.losses.iter().filter_map(|(reason, among)| loss(reason, *among));
        words.extend(said.map(|sentence| (format!("! {sentence}"), Tone::Close)));
    }
    if let Some(notice) = &scene.notice {
        words.push((format!("· {notice}"), Tone::Text));
    }
    words
}

/// Why messages were lost, without what to do about it: for where there is no room for more.
pub fn causes(scene: &Scene<'_>) -> Vec<String> {
    let said = scene.losses.iter();
    said.map(|(reason, among)| format!("! {}", findings::words::reason_alone(reason, *among)))
        .collect()
}

/// Draws as many as fit, and says how many lines they took.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, most: u16, theme: Theme) -> u16 {
    let area = inset(area, 1);
    let mut y = 0;
    for (text, tone) in words(scene) {
        if y < most {
            y += put_wrapped(buffer, below(area, y), 0, &text, most - y, theme.style(tone));
        }
    }
    y
}
