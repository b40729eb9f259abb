//! A list in columns of about one height.

/// The items split so that each column takes its share of what is left.
pub fn balanced(items: &[String], count: usize, height: impl Fn(&str) -> f64) -> Vec<&[String]> {
    let total = |items: &[String]| items.iter().map(|item| height(item)).sum::<f64>();
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
pub fn deepest(columns: &[&[String]], height: impl Fn(&str) -> f64) -> f64 {
    let heights = columns
        .iter()
        .map(|items| items.iter().map(|item| height(item)).sum());
    heights.fold(0.0, f64::max)
}
