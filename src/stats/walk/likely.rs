//! The points of a grid at which a likelihood is worth working out.

/// Logarithms this far under the largest are not looked for: what is left out weighs less than 2e-7 of it, and nothing under
/// 1e-5 is kept by those who ask.
const DEPTH: f64 = 16.0;

/// Works out `at` (a logarithm and what comes with it) on a grid of so many rows and columns, spreading from `start` over
/// neighbours in row and column as long as the logarithm is within [`DEPTH`] of the largest seen.
///
/// Gives the points looked at by row and column in order, [`None`] for the others. All that counts is found where the
/// likelihood has one hill, or hills joined above the depth; the start need not be on it.
pub(super) fn likely<T>(
    (rows, columns): (usize, usize),
    start: (usize, usize),
    mut at: impl FnMut(usize, usize) -> (f64, T),
) -> Vec<Option<(f64, T)>> {
    let mut found: Vec<Option<(f64, T)>> = (0..rows * columns).map(|_| None).collect();
    // Points worked out whose neighbours are not yet.
    let mut edge = Vec::new();
    let mut top = f64::NEG_INFINITY;
    let mut look = |place: usize, found: &mut [Option<(f64, T)>], edge: &mut Vec<(f64, usize)>| {
        if found[place].is_none() {
            let (value, with) = at(place / columns, place % columns);
            top = top.max(value);
            found[place] = Some((value, with));
            edge.push((value, place));
        }
        top
    };
    let first = start.0.min(rows - 1) * columns + start.1.min(columns - 1);
    let mut top = look(first, &mut found, &mut edge);
    while let Some(best) = (0..edge.len()).max_by(|&a, &b| edge[a].0.total_cmp(&edge[b].0)) {
        let (value, place) = edge.swap_remove(best);
        if value < top - DEPTH {
            break;
        }
        let (row, column) = (place / columns, place % columns);
        let neighbours = [
            (row > 0).then(|| place - columns),
            (row + 1 < rows).then_some(place + columns),
            (column > 0).then(|| place - 1),
            (column + 1 < columns).then_some(place + 1),
        ];
        for next in neighbours.into_iter().flatten() {
            top = look(next, &mut found, &mut edge);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hill_is_found_from_its_foot_and_the_plain_left_alone() {
        let mut count = 0;
        let found = likely((20, 30), (0, 0), |row, column| {
            count += 1;
            let (y, x) = (row as f64 - 12.0, column as f64 - 20.0);
            (-y * y - x * x, ())
        });
        for (place, point) in found.iter().enumerate() {
            let (y, x) = ((place / 30) as f64 - 12.0, (place % 30) as f64 - 20.0);
            if y * y + x * x <= DEPTH {
                assert!(point.is_some(), "{place}");
            }
        }
        assert!(count < 250, "{count}");
    }

    #[test]
    fn a_grid_of_one_point_is_looked_at_once() {
        let found = likely((1, 1), (5, 5), |_, _| (f64::NAN, 3));
        assert_eq!(found[0].as_ref().map(|found| found.1), Some(3));
    }
}
