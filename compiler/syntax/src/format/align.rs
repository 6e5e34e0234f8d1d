//! From lines to text: columns lined up.

use super::layout::{Line, LineKind};

/// A cell or a line of code wider than this does not push a column of the lines around it to the right.
const WIDEST: usize = 72;

/// Prints lines, each run of like ones with its columns lined up, and the comments beside code with theirs.
pub(super) fn print(mut lines: Vec<Line>) -> String {
    line_up_cells(&mut lines);
    let columns = comment_columns(&lines);
    let mut output = String::new();
    for (line, column) in lines.iter().zip(columns) {
        if line.blank_above {
            output.push('\n');
        }
        output.push_str(&" ".repeat(line.indent));
        let code = line.cells.concat();
        output.push_str(&code);
        if let Some(comment) = &line.comment {
            let width = line.indent + code.chars().count();
            let gap = if code.is_empty() { 0 } else { column.saturating_sub(width).max(2) };
            output.push_str(&" ".repeat(gap));
            output.push_str(comment);
        }
        output.push('\n');
    }
    output
}

/// Pads the cells of each run of lines of one kind to one width, so that they can be joined as they are.
fn line_up_cells(lines: &mut [Line]) {
    let mut rest = lines;
    while !rest.is_empty() {
        let length = run(rest, |first, line| {
            line.kind == first.kind && line.cells.len() == first.cells.len() && line.indent == first.indent
        });
        let (here, after) = rest.split_at_mut(length);
        let columns = here.first().map_or(0, |line| line.cells.len());
        // A comment alone in the run has no cells.
        for column in 0..columns.saturating_sub(1) {
            line_up_column(here, column);
        }
        rest = after;
    }
}

fn line_up_column(run: &mut [Line], column: usize) {
    let cells = || run.iter().filter_map(|line| line.cells.get(column));
    let widest = cells().map(|cell| cell.chars().count()).filter(|&width| width <= WIDEST).max().unwrap_or(0);
    let many = cells().count() > 1;
    for line in run {
        let gap = if line.kind == LineKind::Requires && many { 2 } else { 1 };
        if let Some(cell) = line.cells.get_mut(column) {
            let width = cell.chars().count();
            cell.push_str(&" ".repeat(widest.saturating_sub(width) + gap));
        }
    }
}

/// The column of the comment beside each line: one for all lines of a run that no empty line breaks.
fn comment_columns(lines: &[Line]) -> Vec<usize> {
    let mut columns = Vec::with_capacity(lines.len());
    let mut rest = lines;
    while !rest.is_empty() {
        let length = run(rest, |first, line| line.indent == first.indent);
        let (here, after) = rest.split_at(length);
        let width = |line: &Line| line.indent + line.cells.concat().chars().count();
        let beside = here.iter().filter(|line| line.comment.is_some() && !line.cells.is_empty());
        let widest = beside.map(width).filter(|&width| width <= WIDEST).max().unwrap_or(0);
        columns.extend(std::iter::repeat_n(widest + 2, length));
        rest = after;
    }
    columns
}

/// How many lines from the first on are alike and stand together. Comments on lines of their own break nothing.
fn run(lines: &[Line], alike: impl Fn(&Line, &Line) -> bool) -> usize {
    let Some((first, rest)) = lines.split_first() else { return 0 };
    let together = |line: &&Line| !line.blank_above && (line.cells.is_empty() || alike(first, line));
    1 + rest.iter().take_while(together).count()
}
