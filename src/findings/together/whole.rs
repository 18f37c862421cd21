//! Several surveys looked at together: every one against the first.

use super::member::{Member, letter};
use super::pair::{Pair, pair};
use crate::findings::sweeps::Sweep;
use crate::units::UtcMs;

/// Several surveys looked at together.
#[derive(Clone, Debug, Default)]
pub struct Together {
    /// The surveys, in the order given.
    pub surveys: Vec<Shown>,
    /// Every survey against the first, board by board where both carried the same.
    pub pairs: Vec<Pair>,
}

/// A survey among others.
#[derive(Clone, Debug)]
pub struct Shown {
    /// The letter it goes by.
    pub letter: char,
    /// What it is called.
    pub title: String,
    /// When it began.
    pub begin: Option<UtcMs>,
    /// Exchanges that count.
    pub exchanges: u64,
    /// Of them delivered.
    pub delivered: u64,
    /// Its sweeps.
    pub sweeps: Vec<Sweep>,
}

/// Compares every survey with the first. Boards that both carried are compared with themselves; where they share none, the
/// most carried board of each.
pub fn together(members: &[Member<'_>]) -> Together {
    let surveys = members.iter().enumerate().map(|(index, member)| shown(index, member));
    let mut made = Together {
        surveys: surveys.collect(),
        pairs: Vec::new(),
    };
    let titles: Vec<String> = made.surveys.iter().map(|shown| shown.title.clone()).collect();
    let names: Vec<&str> = members.iter().map(|member| member.name).collect();
    for (shown, title) in made.surveys.iter_mut().zip(tell_apart(&titles, &names)) {
        shown.title = title;
    }
    let Some(first) = members.first() else { return made };
    let own = first.boards();
    for (index, member) in members.iter().enumerate().skip(1) {
        let others = member.boards();
        let mut boards: Vec<[&str; 2]> = own
            .iter()
            .filter(|board| others.contains(board))
            .map(|board| [*board, *board])
            .collect();
        if boards.is_empty()
            && let (Some(a), Some(b)) = (own.first(), others.first())
        {
            boards.push([a, b]);
        }
        made.pairs.extend(
            boards
                .into_iter()
                .filter_map(|boards| pair(members, (0, index), boards)),
        );
    }
    made
}

/// Gives titles that are alike their folder's name besides.
fn tell_apart(titles: &[String], names: &[&str]) -> Vec<String> {
    let told = |(title, name): (&String, &&str)| {
        let alike = titles.iter().filter(|other| *other == title).count();
        if alike > 1 && title != name {
            format!("{title} ({name})")
        } else {
            title.clone()
        }
    };
    titles.iter().zip(names).map(told).collect()
}

fn shown(index: usize, member: &Member<'_>) -> Shown {
    let rows = &member.samples.rows;
    let counted = || rows.iter().filter(|row| row.counts());
    let title = &member.setup.title;
    Shown {
        letter: letter(index),
        title: if title.trim().is_empty() {
            member.name.to_owned()
        } else {
            title.clone()
        },
        begin: rows.first().map(|row| row.utc),
        exchanges: counted().count() as u64,
        delivered: counted().filter(|row| row.delivered()).count() as u64,
        sweeps: member.estimates.sweeps.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::tell_apart;

    #[test]
    fn surveys_of_one_title_are_told_apart_by_their_folders() {
        let titles = ["east side", "east side", "west side"].map(str::to_owned);
        assert_eq!(
            tell_apart(&titles, &["may", "june", "july"]),
            ["east side (may)", "east side (june)", "west side"]
        );
    }
}
