//! The plan as plain text for a terminal or a file.

use std::fmt::Write as _;

use super::forecast::Plan;
use super::inputs::{Ground, Receiver};
use super::plot;
use super::reach::Reach;
use crate::findings::outdoors::FIRST;
use crate::findings::words::{minus, signed};
use crate::link::Budget;
use crate::units::{Db, Metres};

/// The plan in lines of at most `width` characters (64 at least, 120 at most), each ended by a line feed.
pub fn render(plan: &Plan, width: usize) -> String {
    let width = width.clamp(64, 120);
    let mut page = Page {
        text: String::new(),
        width,
    };
    head(&mut page, plan);
    goal(&mut page, plan);
    table(&mut page, plan);
    picture(&mut page, plan);
    budget(&mut page, plan);
    room(&mut page, plan);
    page.title("Where the figures come from");
    for formula in &plan.formulas {
        page.paragraph(2, &format!("{}:", formula.what));
        page.paragraph(
            4,
            &format!("{}. {}", formula.published.formula, formula.published.source),
        );
    }
    page.title("Before you trust them");
    for warning in &plan.cautions {
        page.item(warning.words);
    }
    page.title("Before you go out");
    page.paragraph(2, FIRST);
    for caution in plan.outdoors {
        page.item(caution);
    }
    page.text
}

fn head(page: &mut Page, plan: &Plan) {
    let inputs = &plan.inputs;
    let channel = match inputs.mhz {
        Some(_) => String::new(),
        None => format!(" channel {}", inputs.channel),
    };
    page.paragraph(
        0,
        &format!(
            "Plan: {}{channel}, {} MHz; aerials {} m and {} m up; {}",
            inputs.radio.word(),
            plan.frequency_mhz.0,
            inputs.station.height_m.0,
            inputs.node.height_m.0,
            match inputs.ground {
                Ground::Flat => "flat, open ground",
                Ground::Cluttered => "ground with things beside the path",
            }
        ),
    );
    if let Some((trees, wood)) = inputs.trees.zip(inputs.wood()) {
        page.paragraph(
            2,
            &format!(
                "trees from {} m on, {} m deep: {} dB a metre at first, {} dB at most",
                trees.from_station_m.0, trees.depth_m.0, wood.db_per_m, wood.most.0
            ),
        );
    }
    if let Some(edge) = inputs.edge {
        page.paragraph(
            2,
            &format!(
                "an edge {} m high, {} m from the station",
                edge.height_m.0, edge.from_station_m.0
            ),
        );
    }
    if inputs.through_db.0 > 0.0 {
        page.paragraph(2, &format!("a wall passed through takes {} dB", inputs.through_db.0));
    }
    page.paragraph(
        2,
        &format!(
            "radiated: station {} dBm, node {} dBm e.i.r.p.",
            minus(plan.station_eirp_dbm.0, 1),
            minus(plan.node_eirp_dbm.0, 1)
        ),
    );
}

fn goal(page: &mut Page, plan: &Plan) {
    let goal = plan.inputs.goal;
    let needed = plan.needed;
    page.title("How far the goal carries");
    page.paragraph(
        2,
        &format!(
            "goal: {} % of messages there and back, {} dB of margin, {} % sure of a place unseen",
            percent(goal.delivery),
            goal.margin_db.0,
            percent(goal.confidence)
        ),
    );
    let worked = match plan.inputs.receiver {
        Receiver::Stated { .. } => "given",
        Receiver::Worked { .. } => "worked out",
    };
    page.paragraph(
        2,
        &format!(
            "receivers' 90 % level {} dBm ({worked}); a place must stand {:.1} dB above it: fades ask for {:.1} dB, the goal's \
             margin for {:.1} dB; scatter of {} dB adds {:.1} dB for places unseen",
            minus(plan.level90_dbm.0, 1),
            needed.margin_db.0,
            needed.fading_db.0,
            needed.goal_db.0,
            plan.inputs.sigma_db.0,
            needed.scatter_db.0
        ),
    );
    let sure = format!("{} % of places meet it", percent(goal.confidence));
    let reaches = [
        (sure.as_str(), plan.reaches.sure),
        ("half of the places meet it", plan.reaches.even),
        ("if the loss is at its upper bound", plan.reaches.at_upper_bound),
        ("if the loss is at its lower bound", plan.reaches.at_lower_bound),
    ];
    for (what, reach) in reaches {
        page.fill(&format!("  {what:<33} "), &" ".repeat(36), &reach_in_words(reach));
    }
    page.paragraph(
        2,
        "the bounds and the scatter are two views of the same spread between places: do not add them",
    );
}

fn table(page: &mut Page, plan: &Plan) {
    page.title("By distance (levels of the weaker way, dBm)");
    page.line("  distance  expected     bounds     margin  delivery  places");
    for row in &plan.rows {
        page.line(&format!(
            "  {:>6} m  {:>8}  {:>4} to {:>4}  {:>6} dB  {:>6} %  {:>4} %",
            row.distance_m.0,
            minus(row.here_dbm.0.min(row.there_dbm.0), 0),
            minus(row.level_low_dbm.0, 0),
            minus(row.level_high_dbm.0, 0),
            minus(row.margin_db.0, 0),
            percent_bounded(row.delivery),
            percent_bounded(row.places)
        ));
    }
    page.paragraph(
        2,
        "delivery: at a place with the expected level. places: the share of places there that meet the goal.",
    );
}

fn picture(page: &mut Page, plan: &Plan) {
    page.line("");
    for line in plot::lines(plan, page.width - 2) {
        page.line(&line);
    }
    page.paragraph(2, "full: expected level; dotted: bounds; dashed: what a place needs");
}

fn budget(page: &mut Page, plan: &Plan) {
    page.title(&format!("Budget at {} m", two_digits(plan.room.distance_m)));
    let ways = [
        ("station to node", &plan.to_node),
        ("node to station", &plan.to_station),
    ];
    for (way, budget) in ways {
        page.line(&format!("  {way}"));
        terms(page, budget);
        let margin = budget.margin(plan.level90_dbm).0;
        let margin = signed(margin, 1);
        page.line(&format!("    {:<30} {margin:>8} dB", "above the receiver's level"));
    }
}

fn terms(page: &mut Page, budget: &Budget) {
    page.line(&format!(
        "    {:<30} {:>8} dBm",
        "transmit power",
        minus(budget.transmit_dbm.0, 1)
    ));
    for term in budget.terms.iter().filter(|term| term.adds_db != Db(0.0)) {
        page.line(&format!("    {:<30} {:>8} dB", term.name, signed(term.adds_db.0, 1)));
    }
    let level = minus(budget.level().0, 1);
    page.line(&format!("    {:<30} {level:>8} dBm", "level received"));
}

fn room(page: &mut Page, plan: &Plan) {
    let room = &plan.room;
    page.title(&format!("Room for the signal at {} m", two_digits(room.distance_m)));
    page.paragraph(
        2,
        &format!(
            "half way the first Fresnel zone is {:.1} m in radius, {:.1} m of it should be clear; the line of sight runs {:.1} m \
             above the ground there, {:.0} % of the radius",
            room.radius_m.0,
            room.wanted_m.0,
            room.line_m.0,
            room.clear_share * 100.0
        ),
    );
    page.paragraph(
        2,
        &format!(
            "the zone touches flat ground from {} m on; both aerials {:.1} m up would keep it clear",
            two_digits(room.break_point_m),
            room.both_heights_m.0
        ),
    );
    if let Some(edge) = room.edge {
        let side = if edge.over_line_m.0 >= 0.0 { "above" } else { "below" };
        page.paragraph(
            2,
            &format!(
                "the edge given stands {:.1} m {side} the line of sight on the way there and costs {:.1} dB",
                edge.over_line_m.0.abs(),
                edge.exact_db.0.max(0.0)
            ),
        );
    }
    page.line("  from the station   should be clear   may stand, at most");
    for zone in &room.along {
        let stand = if zone.may_stand_m.0 > 0.0 {
            format!("{:.1} m", zone.may_stand_m.0)
        } else {
            "–".to_owned()
        };
        page.line(&format!(
            "  {:>12} m   {:>13.1} m   {stand:>18}",
            two_digits(zone.from_station_m),
            zone.wanted_m.0
        ));
    }
    page.line("  an edge half way, over the line of sight   costs");
    for edge in &room.edges {
        page.line(&format!(
            "  {:>38} m   {:>5} dB",
            minus(edge.over_line_m.0, 1),
            minus(edge.exact_db.0, 1)
        ));
    }
}

fn reach_in_words(reach: Reach) -> String {
    let mut words = match reach.distance_m {
        None => "nowhere".to_owned(),
        Some(distance) if reach.at_least => format!("at least {} m", two_digits(distance)),
        Some(distance) => format!("up to {} m", two_digits(distance)),
    };
    if let Some((from, to)) = reach.again_from_m.zip(reach.again_to_m) {
        let _ = write!(words, ", again {} to {} m", two_digits(from), two_digits(to));
    }
    words
}

/// A distance with two significant digits: the formulas give no more.
fn two_digits(distance: Metres) -> String {
    let size = 10f64.powf(distance.0.abs().max(1e-3).log10().floor() - 1.0);
    let rounded = (distance.0 / size).round() * size;
    if size < 1.0 {
        format!("{rounded:.1}")
    } else {
        format!("{rounded:.0}")
    }
}

/// A given share as a percentage, with the decimals it was given with.
fn percent(share: f64) -> String {
    let text = format!("{:.4}", share * 100.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// An expected share in whole per cent, never claiming none or all.
fn percent_bounded(share: f64) -> String {
    let percent = share * 100.0;
    if percent > 99.5 {
        ">99".to_owned()
    } else if percent < 0.5 {
        "<1".to_owned()
    } else {
        format!("{percent:.0}")
    }
}

struct Page {
    text: String,
    width: usize,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn title(&mut self, title: &str) {
        self.line("");
        self.line(title);
    }

    fn paragraph(&mut self, indent: usize, words: &str) {
        self.fill(&" ".repeat(indent), &" ".repeat(indent), words);
    }

    fn item(&mut self, words: &str) {
        self.fill("  - ", "    ", words);
    }

    /// Breaks words into lines of the page's width; a longer word has a line of its own.
    fn fill(&mut self, first: &str, rest: &str, words: &str) {
        let mut line = first.to_owned();
        let mut length = first.chars().count();
        let mut empty = true;
        for word in words.split_whitespace() {
            let size = word.chars().count();
            if !empty && length + 1 + size > self.width {
                self.line(&line);
                rest.clone_into(&mut line);
                length = rest.chars().count();
                empty = true;
            }
            if !empty {
                line.push(' ');
                length += 1;
            }
            line.push_str(word);
            length += size;
            empty = false;
        }
        self.line(&line);
    }
}

#[cfg(test)]
mod tests {
    use super::super::inputs::{Edge, PlanInputs, Trees};
    use super::super::plan;
    use super::*;

    #[test]
    fn lines_keep_to_the_width() {
        let inputs = PlanInputs {
            trees: Some(Trees {
                from_station_m: Metres(60.0),
                depth_m: Metres(25.0),
                db_per_m: None,
                most_db: None,
            }),
            edge: Some(Edge {
                from_station_m: Metres(30.0),
                height_m: Metres(2.6),
            }),
            through_db: Db(3.0),
            ..PlanInputs::default()
        };
        let plan = plan(&inputs).unwrap();
        for width in [0, 60, 80, 500] {
            let page = render(&plan, width);
            let widest = page.lines().map(|line| line.chars().count()).max().unwrap();
            assert!(widest <= width.clamp(64, 120), "{widest} at {width}:\n{page}");
            assert!(!page.contains("NaN") && !page.contains("inf"), "{page}");
            assert!(page.contains("check your local rules"));
            for danger in [
                "ladders",
                "overhead lines",
                "lightning",
                "livestock",
                "Lithium",
                "people licensed",
            ] {
                let words: Vec<&str> = page.split_whitespace().collect();
                assert!(words.join(" ").contains(danger), "{danger}:\n{page}");
            }
            let hyphen_for_minus = |three: &[u8]| three.starts_with(b" -") && three[2].is_ascii_digit();
            // Formulas are quoted as published; figures have a true minus.
            let figures = page.split("Where the figures come from").next().unwrap();
            assert!(!figures.as_bytes().windows(3).any(hyphen_for_minus), "{page}");
        }
    }

    #[test]
    fn a_plan_reads_as_it_should() {
        let page = render(&plan(&PlanInputs::default()).unwrap(), 80);
        assert!(
            page.starts_with("Plan: 802.11 channel 6, 2437 MHz; aerials 3 m and 1.2 m up;"),
            "{page}"
        );
        assert!(page.contains("receivers' 90 % level −89.6 dBm (worked out)"), "{page}");
        assert!(page.contains("half of the places meet it"), "{page}");
    }

    #[test]
    fn figures_claim_no_more_than_is_known() {
        assert_eq!(two_digits(Metres(123.4)), "120");
        assert_eq!(two_digits(Metres(7.26)), "7.3");
        assert_eq!(two_digits(Metres(1.0)), "1.0");
        assert_eq!(two_digits(Metres(20_000.0)), "20000");
        assert_eq!(percent_bounded(0.999), ">99");
        assert_eq!(percent_bounded(0.0), "<1");
        assert_eq!(percent(0.95), "95");
        assert_eq!(percent(0.999), "99.9");
    }
}
