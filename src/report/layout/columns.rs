//! A list in columns of about one height.

/// The items split so that each column takes its share of what is left.
pub fn balanced<T>(items: &[T], count: usize, height: impl Fn(&T) -> f64) -> Vec<&[T]> {
    let total = |items: &[T]| items.iter().map(&height).sum::<f64>();
    let mut columns = Vec::with_capacity(count);
    let mut rest = items;
    for left in (1..=count).rev() {
        let share = total(rest) / left as f64;
        let off = |n: usize| (total(&rest[..n]) - share).abs();
        let taken = (0..=rest.len())
            .min_by(|&a, &b| off(a).total_cmp(&off(b)))
            .unwrap_or(rest.len());
        let (column, after) = rest.split_at(taken);
        columns.push(column);
        rest = after;
    }
    columns
}

/// Height of the deepest column.
pub fn deepest<T>(columns: &[&[T]], height: impl Fn(&T) -> f64) -> f64 {
    let heights = columns.iter().map(|items| items.iter().map(&height).sum());
    heights.fold(0.0, f64::max)
}
