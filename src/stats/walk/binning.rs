//! Cells of a walk: places a few metres across, each with all that was heard or lost there.

use crate::stats::cells::{Cell, Heard};

/// One exchange of a walk at a known place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WalkSample {
    /// Metres east of the station.
    pub east_m: f64,
    /// Metres north of the station.
    pub north_m: f64,
    /// What came of it.
    pub heard: Heard,
}

/// How a walk is cut into cells. The defaults are those the fit's coverage was measured with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BinRules {
    /// Samples in the moving average over positions; even numbers act as the next odd one.
    pub smooth_samples: usize,
    /// Nearest distance used, metres: four times the usual one-axis position error of 3 m.
    pub nearest_m: f64,
    /// A sample within this many metres of its cell's first place belongs to it.
    pub radius_m: f64,
    /// A cell last visited long ago takes a sample back within this many metres.
    pub revisit_radius_m: f64,
    /// How many samples ago is long ago.
    pub revisit_after: usize,
    /// With more cells than this, all is done again with a radius half as large again.
    pub most_cells: usize,
    /// Whether a place passed both towards the station and away from it becomes two cells: the walker's body stands in the
    /// way on one of them.
    pub by_heading: bool,
}

impl Default for BinRules {
    fn default() -> Self {
        Self {
            smooth_samples: 21,
            nearest_m: 12.0,
            radius_m: 4.0,
            revisit_radius_m: 8.0,
            revisit_after: 200,
            most_cells: 400,
            by_heading: false,
        }
    }
}

impl BinRules {
    /// The usual rules, and headings kept apart.
    pub fn by_heading() -> Self {
        Self {
            by_heading: true,
            ..Self::default()
        }
    }
}

/// A place on the walk and all that was heard there.
#[derive(Clone, Debug, PartialEq)]
pub struct WalkCell {
    /// Mean place, metres east of the station.
    pub east_m: f64,
    /// Mean place, metres north of the station.
    pub north_m: f64,
    /// Mean of the decimal logarithm of the distance in metres.
    pub log10_distance: f64,
    /// Readings and losses.
    pub heard: Cell,
    /// Whether the walk came back here after having been elsewhere.
    pub revisited: bool,
    /// How far the walker had the back to the station: 0 walking towards it, 1 straight away from it, a half across; the
    /// mean over its exchanges. `None` where headings are not looked at or not known.
    pub away: Option<f64>,
    /// Whether this is the same place as the cell before it, passed the other way.
    pub same_place: bool,
}

/// The cells of a walk in the order of their first visit, and what was left out of them.
#[derive(Clone, Debug, PartialEq)]
pub struct BinnedWalk {
    /// The cells.
    pub cells: Vec<WalkCell>,
    /// Radius of a cell in the end, metres.
    pub radius_m: f64,
    /// Samples left out because they are nearer than [`BinRules::nearest_m`].
    pub too_near: usize,
    /// Samples left out because a coordinate is no number or beyond 1000 km.
    pub unusable: usize,
}

/// Cuts a walk, in time order, into cells by leader clustering of its smoothed track.
///
/// Positions are smoothed by a moving average over samples (shorter at both ends). A sample stays with its cell's first
/// place while near it; else it joins the nearest cell near enough, where one visited long ago reaches further; else it
/// begins a new cell. A second pass along the same path thereby falls into the cells of the first.
pub fn bin_walk(samples: &[WalkSample], rules: &BinRules) -> BinnedWalk {
    let usable: Vec<&WalkSample> = samples
        .iter()
        .filter(|s| s.east_m.abs() <= 1e6 && s.north_m.abs() <= 1e6)
        .collect();
    let east = moving_average(usable.iter().map(|s| s.east_m), rules.smooth_samples);
    let north = moving_average(usable.iter().map(|s| s.north_m), rules.smooth_samples);
    let away = if rules.by_heading {
        headings(&east, &north, rules.smooth_samples / 2)
    } else {
        vec![None; usable.len()]
    };
    let mut track = Vec::with_capacity(usable.len());
    for (i, sample) in usable.iter().enumerate() {
        let distance = east[i].hypot(north[i]);
        if distance >= rules.nearest_m && distance > 0.0 {
            track.push(Passed {
                east_m: east[i],
                north_m: north[i],
                distance_m: distance,
                away: away[i],
                heard: sample.heard,
            });
        }
    }
    let places: Vec<(f64, f64)> = track.iter().map(|passed| (passed.east_m, passed.north_m)).collect();
    let mut radius_m = if rules.radius_m > 0.0 {
        rules.radius_m
    } else {
        BinRules::default().radius_m
    };
    let cells = loop {
        if let Some(clusters) = cluster(&places, radius_m, rules) {
            let cells = gather(&track, &clusters);
            // One place passed both ways is two cells however wide it is.
            if cells.len() <= rules.most_cells || clusters.revisited.len() <= 1 {
                break cells;
            }
        }
        radius_m *= 1.5;
    };
    BinnedWalk {
        cells,
        radius_m,
        too_near: usable.len() - track.len(),
        unusable: samples.len() - usable.len(),
    }
}

/// Mean over `window / 2` samples on either side, fewer at the ends.
fn moving_average(values: impl Iterator<Item = f64>, window: usize) -> Vec<f64> {
    let mut sums = vec![0.0];
    for value in values {
        sums.push(sums[sums.len() - 1] + value);
    }
    let n = sums.len() - 1;
    let half = window / 2;
    (0..n)
        .map(|i| {
            let from = i.saturating_sub(half);
            let to = (i.saturating_add(half).saturating_add(1)).min(n);
            (sums[to] - sums[from]) / (to - from) as f64
        })
        .collect()
}

/// One exchange on the smoothed track.
struct Passed {
    east_m: f64,
    north_m: f64,
    distance_m: f64,
    away: Option<f64>,
    heard: Heard,
}

/// Fewest exchanges of each heading for which a place becomes two cells.
const LEAST_OF_A_HEADING: usize = 5;
/// Shortest way between the samples before and after that tells a heading, metres: shorter ones are the receiver's noise.
const SHORTEST_WAY_M: f64 = 0.8;

/// How far the walker has the back to the station, (1 + cos of the angle between way and outward direction) / 2, from the
/// smoothed track `half` samples before and after; where it stands still, as it was last.
fn headings(east: &[f64], north: &[f64], half: usize) -> Vec<Option<f64>> {
    let half = half.max(1);
    let last = east.len().saturating_sub(1);
    let mut known = None;
    (0..east.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(half), i.saturating_add(half).min(last));
            let (dx, dy) = (east[b] - east[a], north[b] - north[a]);
            let (way, distance) = (dx.hypot(dy), east[i].hypot(north[i]));
            if way >= SHORTEST_WAY_M && distance > 0.0 {
                let outward = (dx * east[i] + dy * north[i]) / (way * distance);
                known = Some(0.5 + 0.5 * outward);
            }
            known
        })
        .collect()
}

struct Clusters {
    label: Vec<usize>,
    revisited: Vec<bool>,
}

struct Leader {
    x: f64,
    y: f64,
    last: usize,
    being_revisited: bool,
}

/// Clusters with one radius; `None` as soon as there are too many.
fn cluster(places: &[(f64, f64)], radius: f64, rules: &BinRules) -> Option<Clusters> {
    let near = radius * radius;
    let wide = rules.revisit_radius_m.max(radius).powi(2);
    let mut leaders: Vec<Leader> = Vec::new();
    let mut revisited = Vec::new();
    let mut label = Vec::with_capacity(places.len());
    let mut current: Option<usize> = None;
    for (i, &(x, y)) in places.iter().enumerate() {
        if let Some(c) = current {
            let leader = &leaders[c];
            let reach = if leader.being_revisited { wide } else { near };
            if (x - leader.x).powi(2) + (y - leader.y).powi(2) <= reach {
                label.push(c);
                continue;
            }
        }
        let mut best: Option<(usize, bool)> = None;
        let mut nearest = f64::INFINITY;
        for (j, leader) in leaders.iter().enumerate() {
            let squared = (x - leader.x).powi(2) + (y - leader.y).powi(2);
            let long_ago = i - leader.last > rules.revisit_after;
            if squared < nearest && (squared <= near || (long_ago && squared <= wide)) {
                nearest = squared;
                best = Some((j, long_ago));
            }
        }
        // Leaving a cell is what dates it: while it is held, its date stays that of its last arrival.
        if let Some(c) = current {
            leaders[c].last = i;
            leaders[c].being_revisited = false;
        }
        let joined = if let Some((j, long_ago)) = best {
            revisited[j] |= long_ago;
            leaders[j].last = i;
            leaders[j].being_revisited = long_ago;
            j
        } else {
            if leaders.len() >= rules.most_cells.max(1) {
                return None;
            }
            leaders.push(Leader {
                x,
                y,
                last: i,
                being_revisited: false,
            });
            revisited.push(false);
            leaders.len() - 1
        };
        current = Some(joined);
        label.push(joined);
    }
    Some(Clusters { label, revisited })
}

/// Cells of each place in the order of first visits; where headings are kept apart, two for a place passed both ways.
fn gather(track: &[Passed], clusters: &Clusters) -> Vec<WalkCell> {
    let mut members: Vec<Vec<&Passed>> = vec![Vec::new(); clusters.revisited.len()];
    for (passed, &j) in track.iter().zip(&clusters.label) {
        members[j].push(passed);
    }
    let mut cells = Vec::with_capacity(members.len());
    for (own, &revisited) in members.iter().zip(&clusters.revisited) {
        let (outward, inward): (Vec<&Passed>, Vec<&Passed>) =
            own.iter().partition(|passed| passed.away.is_none_or(|away| away > 0.5));
        if outward.len().min(inward.len()) >= LEAST_OF_A_HEADING {
            let leads = own[0].away.is_none_or(|away| away > 0.5);
            let (first, second) = if leads { (outward, inward) } else { (inward, outward) };
            cells.push(cell(&first, revisited, false));
            cells.push(cell(&second, revisited, true));
        } else {
            cells.push(cell(own, revisited, false));
        }
    }
    cells
}

fn cell(own: &[&Passed], revisited: bool, same_place: bool) -> WalkCell {
    let mean = |part: fn(&Passed) -> f64| own.iter().map(|passed| part(passed)).sum::<f64>() / own.len() as f64;
    let known: Vec<f64> = own.iter().filter_map(|passed| passed.away).collect();
    WalkCell {
        east_m: mean(|passed| passed.east_m),
        north_m: mean(|passed| passed.north_m),
        log10_distance: mean(|passed| passed.distance_m.log10()),
        heard: Cell::count(own.iter().map(|passed| passed.heard)),
        revisited,
        away: (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64),
        same_place,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn along(x: f64) -> WalkSample {
        WalkSample {
            east_m: x,
            north_m: 0.0,
            heard: Heard::At(-60),
        }
    }

    #[test]
    fn the_way_back_falls_into_the_cells_of_the_way_out() {
        let mut walk: Vec<_> = (0..1000).map(|i| along(20.0 + 0.1 * f64::from(i))).collect();
        walk.extend((0..1000).rev().map(|i| along(20.0 + 0.1 * f64::from(i))));
        let out = bin_walk(&walk[..1000], &BinRules::default());
        let both = bin_walk(&walk, &BinRules::default());
        assert!(out.cells.iter().all(|cell| !cell.revisited));
        assert!(
            both.cells.len() <= out.cells.len() + 1,
            "{} then {}",
            out.cells.len(),
            both.cells.len()
        );
        // A cell taken back holds twice as long, so that about every other one is.
        assert!(both.cells.iter().filter(|cell| cell.revisited).count() * 3 > both.cells.len());
        let counted: f64 = both.cells.iter().map(|cell| cell.heard.exchanges()).sum();
        assert_eq!(counted, walk.len() as f64);
    }

    #[test]
    fn a_place_passed_both_ways_is_two_cells_where_headings_are_kept_apart() {
        let mut walk: Vec<_> = (0..1000).map(|i| along(20.0 + 0.1 * f64::from(i))).collect();
        walk.extend((0..1000).rev().map(|i| along(20.0 + 0.1 * f64::from(i))));
        let merged = bin_walk(&walk, &BinRules::default());
        assert!(merged.cells.iter().all(|cell| cell.away.is_none() && !cell.same_place));
        let apart = bin_walk(&walk, &BinRules::by_heading());
        for pair in apart.cells.windows(2).filter(|pair| pair[1].same_place) {
            // The way out came first, but for the cell where the walk turns.
            let (first, second) = (pair[0].away.unwrap(), pair[1].away.unwrap());
            assert!(first > 0.9 && second < 0.1, "{first} {second}");
        }
        assert!(apart.cells.iter().filter(|cell| cell.same_place).count() * 3 > apart.cells.len());
        let counted: f64 = apart.cells.iter().map(|cell| cell.heard.exchanges()).sum();
        assert_eq!(counted, walk.len() as f64);
    }

    #[test]
    fn nobody_who_stands_still_has_a_heading() {
        let still = vec![along(50.0); 100];
        let binned = bin_walk(&still, &BinRules::by_heading());
        assert_eq!(binned.cells.len(), 1);
        assert_eq!(binned.cells[0].away, None);
    }

    #[test]
    fn a_long_walk_gets_wider_cells_rather_than_more() {
        let walk: Vec<_> = (0..30_000).map(|i| along(20.0 + 0.1 * f64::from(i))).collect();
        let binned = bin_walk(&walk, &BinRules::default());
        assert!(binned.cells.len() <= 400);
        assert_eq!(binned.radius_m, 9.0);
        let mut both_ways = walk.clone();
        both_ways.extend(walk.iter().rev());
        let binned = bin_walk(&both_ways, &BinRules::by_heading());
        assert!(
            (201..=400).contains(&binned.cells.len()),
            "{} cells",
            binned.cells.len()
        );
        let one = BinRules {
            most_cells: 1,
            ..BinRules::by_heading()
        };
        assert!(bin_walk(&both_ways, &one).cells.len() <= 2);
    }

    #[test]
    fn places_all_over_the_country_end_in_few_cells() {
        let scattered: Vec<_> = (0..5_000_i64)
            .map(|i| WalkSample {
                east_m: (i * 7_919 % 1_999_993 - 999_996) as f64,
                north_m: (i * 104_729 % 1_999_993 - 999_996) as f64,
                heard: Heard::Lost,
            })
            .collect();
        let binned = bin_walk(&scattered, &BinRules::default());
        assert!((1..=400).contains(&binned.cells.len()));
        let rules = BinRules {
            most_cells: 0,
            radius_m: f64::NAN,
            smooth_samples: usize::MAX,
            ..BinRules::default()
        };
        assert_eq!(bin_walk(&scattered, &rules).cells.len(), 1);
    }

    #[test]
    fn what_is_no_number_or_too_near_is_counted_not_used() {
        let odd = WalkSample {
            east_m: f64::NAN,
            ..along(50.0)
        };
        let binned = bin_walk(&[odd, along(50.0), along(1e300), along(50.0)], &BinRules::default());
        assert_eq!((binned.unusable, binned.too_near, binned.cells.len()), (2, 0, 1));
        let binned = bin_walk(&[along(3.0), along(3.1)], &BinRules::default());
        assert_eq!((binned.too_near, binned.cells.len()), (2, 0));
        assert!(bin_walk(&[], &BinRules::default()).cells.is_empty());
    }
}
