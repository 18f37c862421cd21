//! The nearest records of a place, over a grid of buckets.

/// Points bucketed on a grid, to find the nearest ones in order of (distance, index): ties never depend on the buckets.
#[derive(Clone, Debug)]
pub(super) struct Nearest {
    x: Vec<f64>,
    y: Vec<f64>,
    origin: (f64, f64),
    cell: f64,
    columns: usize,
    rows: usize,
    // Bucket `b` holds `members[starts[b]..starts[b + 1]]`.
    starts: Vec<usize>,
    members: Vec<usize>,
}

/// A found point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Neighbour {
    /// Its index among the points.
    pub index: usize,
    /// Its distance in metres.
    pub distance: f64,
}

impl Nearest {
    /// Buckets the points at metres (`x`, `y`), which are finite.
    pub(super) fn new(points: impl Iterator<Item = (f64, f64)>) -> Self {
        let (x, y): (Vec<f64>, Vec<f64>) = points.unzip();
        let low = |values: &[f64]| values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = |values: &[f64]| values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let origin = if x.is_empty() { (0.0, 0.0) } else { (low(&x), low(&y)) };
        let (wide, tall) = if x.is_empty() {
            (0.0, 0.0)
        } else {
            (high(&x) - origin.0, high(&y) - origin.1)
        };
        // Some four points a bucket on even ground, and never more than 257 buckets a side.
        let cell = (wide * tall * 4.0 / x.len().max(1) as f64)
            .sqrt()
            .max(wide.max(tall) / 256.0)
            .max(1e-3);
        let (columns, rows) = ((wide / cell) as usize + 1, (tall / cell) as usize + 1);
        let mut nearest = Self {
            x,
            y,
            origin,
            cell,
            columns,
            rows,
            starts: vec![0; columns * rows + 1],
            members: Vec::new(),
        };
        let buckets: Vec<usize> = (0..nearest.x.len())
            .map(|i| nearest.row(nearest.y[i]) * columns + nearest.column(nearest.x[i]))
            .collect();
        for bucket in &buckets {
            nearest.starts[bucket + 1] += 1;
        }
        for b in 1..nearest.starts.len() {
            nearest.starts[b] += nearest.starts[b - 1];
        }
        let mut next = nearest.starts.clone();
        nearest.members = vec![0; buckets.len()];
        for (i, bucket) in buckets.iter().enumerate() {
            nearest.members[next[*bucket]] = i;
            next[*bucket] += 1;
        }
        nearest
    }

    fn column(&self, x: f64) -> usize {
        (((x - self.origin.0) / self.cell).max(0.0) as usize).min(self.columns - 1)
    }

    fn row(&self, y: f64) -> usize {
        (((y - self.origin.1) / self.cell).max(0.0) as usize).min(self.rows - 1)
    }

    /// The `count` nearest points to metres (`x`, `y`) that `keep` lets through, nearest first.
    pub(super) fn nearest(&self, x: f64, y: f64, count: usize, keep: impl Fn(usize) -> bool) -> Vec<Neighbour> {
        let (column, row) = (self.column(x), self.row(y));
        let mut found: Vec<(f64, usize)> = Vec::with_capacity(4 * count);
        for ring in 0..self.columns.max(self.rows) {
            self.ring(column, row, ring, |i| {
                if keep(i) {
                    let (dx, dy) = (self.x[i] - x, self.y[i] - y);
                    found.push((dx * dx + dy * dy, i));
                }
            });
            if found.len() >= count {
                let sure = self.sure(x, y, column, row, ring);
                if found.iter().filter(|(square, _)| *square <= sure * sure).count() >= count {
                    break;
                }
            }
        }
        if found.len() > count && count > 0 {
            let (_, pivot, _) = found.select_nth_unstable_by(count - 1, |a, b| a.0.total_cmp(&b.0));
            // Squares round differently from distances: what might tie with the last one stays in until the true order.
            let limit = pivot.0 * (1.0 + 1e-12);
            found.retain(|(square, _)| *square <= limit);
        }
        let mut exact: Vec<Neighbour> = found
            .into_iter()
            .map(|(_, index)| Neighbour {
                index,
                distance: (x - self.x[index]).hypot(y - self.y[index]),
            })
            .collect();
        exact.sort_unstable_by(|a, b| a.distance.total_cmp(&b.distance).then(a.index.cmp(&b.index)));
        exact.truncate(count);
        exact
    }

    /// All points closer than `radius` metres, in order of index.
    pub(super) fn within(&self, x: f64, y: f64, radius: f64) -> Vec<Neighbour> {
        let (left, right) = (self.column(x - radius), self.column(x + radius));
        let (low, high) = (self.row(y - radius), self.row(y + radius));
        let mut found = Vec::new();
        for row in low..=high {
            let bucket = row * self.columns;
            for index in &self.members[self.starts[bucket + left]..self.starts[bucket + right + 1]] {
                let distance = (x - self.x[*index]).hypot(y - self.y[*index]);
                if distance < radius {
                    found.push(Neighbour {
                        index: *index,
                        distance,
                    });
                }
            }
        }
        found.sort_unstable_by_key(|neighbour| neighbour.index);
        found
    }

    /// Visits the buckets exactly `ring` away from a bucket.
    fn ring(&self, column: usize, row: usize, ring: usize, mut visit: impl FnMut(usize)) {
        let (left, right) = (column.saturating_sub(ring), (column + ring).min(self.columns - 1));
        let low = row.saturating_sub(ring);
        let high = (row + ring).min(self.rows - 1);
        for r in low..=high {
            let edge_row = r.abs_diff(row) == ring;
            let mut c = left;
            while c <= right {
                if edge_row || c.abs_diff(column) == ring {
                    let bucket = r * self.columns + c;
                    for index in &self.members[self.starts[bucket]..self.starts[bucket + 1]] {
                        visit(*index);
                    }
                    c += 1;
                } else {
                    // Inside columns of an inside row were visited by smaller rings.
                    c = (column + ring).max(c + 1);
                }
            }
        }
    }

    /// The radius in metres around a place within which every point lies in the rings visited so far.
    fn sure(&self, x: f64, y: f64, column: usize, row: usize, ring: usize) -> f64 {
        let mut sure = f64::INFINITY;
        let ring = ring as f64;
        let (column_start, row_start) = (column as f64, row as f64);
        if column_start > ring {
            sure = sure.min(x - (self.origin.0 + (column_start - ring) * self.cell));
        }
        if column_start + ring + 1.0 < self.columns as f64 {
            sure = sure.min(self.origin.0 + (column_start + ring + 1.0) * self.cell - x);
        }
        if row_start > ring {
            sure = sure.min(y - (self.origin.1 + (row_start - ring) * self.cell));
        }
        if row_start + ring + 1.0 < self.rows as f64 {
            sure = sure.min(self.origin.1 + (row_start + ring + 1.0) * self.cell - y);
        }
        // A hair less: a point's bucket is itself found by a rounded division.
        (sure - 1e-9 * self.cell).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn brute(points: &[(f64, f64)], x: f64, y: f64, count: usize, skip: usize) -> Vec<usize> {
        let mut all: Vec<(f64, usize)> = points
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != skip)
            .map(|(i, p)| ((x - p.0).hypot(y - p.1), i))
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        all.into_iter().take(count).map(|(_, i)| i).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]
        #[test]
        fn buckets_find_what_looking_at_all_finds(
            points in prop::collection::vec((-40i32..40, -40i32..40), 0..90),
            stray in prop::bool::ANY,
            x in -70.0f64..70.0, y in -70i32..70, count in 1usize..26, skip in 0usize..90,
        ) {
            // Whole metres, so that ties abound; one stray point stretches the grid.
            let mut points: Vec<(f64, f64)> = points.iter().map(|p| (f64::from(p.0), f64::from(p.1))).collect();
            if stray {
                points.push((90_000.0, -3.0));
            }
            let nearest = Nearest::new(points.iter().copied());
            let y = f64::from(y);
            for x in [x, x.round()] {
                let found: Vec<usize> =
                    nearest.nearest(x, y, count, |i| i != skip).iter().map(|n| n.index).collect();
                prop_assert_eq!(found, brute(&points, x, y, count, skip));
                let close: Vec<usize> = nearest.within(x, y, 15.0).iter().map(|n| n.index).collect();
                let expected: Vec<usize> =
                    (0..points.len()).filter(|i| (x - points[*i].0).hypot(y - points[*i].1) < 15.0).collect();
                prop_assert_eq!(close, expected);
            }
        }
    }
}
