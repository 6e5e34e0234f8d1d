//! Types by name, and tables.

use std::sync::Arc;

use borewright_base::Span;
use borewright_number::Dimension;
use borewright_syntax::ast::{self, ItemKind, Name, Type};

use crate::checker::{Checker, Lazy};
use crate::constant;
use crate::errors;
use crate::module::{Global, ItemId};
use crate::scope::Scope;
use crate::typed::{Cell, ColumnType, Expr, ExprKind, Row, RowExpr, Table, Words};
use crate::value::Value;

/// A parameter of a table's type is proved row by row.
const MOST_ROWS: usize = 64;

/// The named types, in the order in which the manual lists them.
const TYPES: [(&str, Dimension, bool); 7] = [
    ("length", Dimension::LENGTH, false),
    ("angle", Dimension::ANGLE, false),
    ("time", Dimension::TIME, false),
    ("feed", Dimension::FEED, false),
    ("speed", Dimension::SPEED, false),
    ("ratio", Dimension::RATIO, false),
    ("count", Dimension::RATIO, true),
];

impl Checker<'_> {
    /// The type that is written; `None` after an error.
    pub(crate) fn column_type(&mut self, module: usize, kind: &Type) -> Option<ColumnType> {
        match kind {
            Type::Name(name) => {
                if let Some((_, dimension, whole)) = TYPES.iter().find(|(n, ..)| *n == name.text) {
                    return Some(ColumnType::Number { dimension: *dimension, whole: *whole });
                }
                if let Some(Global::Table(id)) = self.global(module, &name.text) {
                    return self.table(id).map(ColumnType::Row);
                }
                let mut known: Vec<String> = TYPES.iter().map(|(n, ..)| (*n).to_owned()).collect();
                known.extend(self.global_names(module, |g| matches!(g, Global::Table(_))));
                self.report(errors::unknown_type(name, &known));
                None
            }
            Type::Choice(names) => Some(ColumnType::Choice(self.words(names))),
            Type::Invalid(_) => {
                self.note_invalid();
                None
            }
        }
    }

    fn words(&mut self, names: &[Name]) -> Words {
        for (index, name) in names.iter().enumerate() {
            if let Some(first) = names.iter().take(index).find(|n| n.text == name.text) {
                self.report(errors::name_taken(&name.text, name.span, Some(first.span)));
            }
        }
        names.iter().map(|n| n.text.clone()).collect()
    }

    pub(crate) fn check_tables(&mut self) {
        for id in self.items(|kind| matches!(kind, ItemKind::Table(_))) {
            self.table(id);
        }
    }

    /// The tables of the file itself.
    pub(crate) fn own_tables(&self) -> Vec<Arc<Table>> {
        let own = self.tables.iter().filter(|(id, _)| id.module == 0);
        own.filter_map(|(_, table)| match table {
            Lazy::Done(table) => table.clone(),
            Lazy::InProgress => None,
        })
        .collect()
    }

    /// The table of that item; `None` after an error.
    pub(crate) fn table(&mut self, id: ItemId) -> Option<Arc<Table>> {
        let (file, index) = self.item(id)?;
        let item = file.items.get(index)?;
        let ItemKind::Table(tree) = &item.kind else { return None };
        match self.tables.get(&id) {
            Some(Lazy::Done(table)) => return table.clone(),
            Some(Lazy::InProgress) => {
                self.report(errors::recursion("table", &tree.name.text, tree.name.span));
                return None;
            }
            None => {}
        }
        self.tables.insert(id, Lazy::InProgress);
        let table = self.read_table(id.module, tree, &item.documentation).map(Arc::new);
        self.tables.insert(id, Lazy::Done(table.clone()));
        table
    }

    fn read_table(&mut self, module: usize, tree: &ast::Table, documentation: &[String]) -> Option<Table> {
        let columns: Option<Vec<(String, ColumnType)>> = tree
            .columns
            .iter()
            .map(|(name, kind)| Some((name.text.clone(), self.column_type(module, kind)?)))
            .collect();
        let columns = columns?;
        self.refuse_twins(tree.columns.iter().map(|(name, _)| name));
        self.refuse_twins(tree.rows.iter().map(|row| &row.name));
        if tree.rows.is_empty() || tree.rows.len() > MOST_ROWS {
            let what = format!("the table `{}` must have 1 to {MOST_ROWS} rows", tree.name.text);
            self.report(errors::bad_table(what, tree.name.span));
            return None;
        }
        let rows: Vec<Row> =
            tree.rows.iter().filter_map(|row| self.read_row(module, row, &columns)).collect();
        (rows.len() == tree.rows.len()).then(|| Table {
            name: tree.name.text.clone(),
            documentation: documentation.to_vec(),
            span: tree.name.span,
            columns,
            rows,
        })
    }

    fn refuse_twins<'n>(&mut self, names: impl Iterator<Item = &'n Name>) {
        let mut seen: Vec<&Name> = Vec::new();
        for name in names {
            match seen.iter().find(|n| n.text == name.text) {
                Some(first) => self.report(errors::name_taken(&name.text, name.span, Some(first.span))),
                None => seen.push(name),
            }
        }
    }

    fn read_row(&mut self, module: usize, row: &ast::Row, columns: &[(String, ColumnType)]) -> Option<Row> {
        if row.values.len() != columns.len() {
            let what = format!(
                "the row `{}` has {} values, and there are {} columns",
                row.name.text,
                row.values.len(),
                columns.len()
            );
            self.report(errors::bad_table(what, row.name.span));
            return None;
        }
        let mut scope = Scope::new(module);
        let cells: Vec<Option<Cell>> = row
            .values
            .iter()
            .zip(columns)
            .map(|(value, (name, kind))| self.cell(&mut scope, value, name, kind))
            .collect();
        let cells: Option<Vec<Cell>> = cells.into_iter().collect();
        Some(Row {
            name: row.name.text.clone(),
            documentation: row.documentation.clone(),
            cells: cells?,
            span: row.name.span,
        })
    }

    fn cell(&mut self, scope: &mut Scope, e: &ast::Expr, column: &str, kind: &ColumnType) -> Option<Cell> {
        let what = format!("the column `{column}`");
        match self.typed_value(scope, e, kind, &what) {
            Value::Number(value) | Value::Choice(_, value) if !value.is_invalid() => {
                let exact = constant::number(&value);
                if exact.is_none() {
                    self.report(errors::not_constant(&what, value.span));
                }
                exact.map(Cell::Number)
            }
            Value::Row(RowExpr::Constant(_, row)) => Some(Cell::Row(row)),
            Value::Row(_) => {
                self.report(errors::not_constant(&what, e.span));
                None
            }
            Value::Number(_)
            | Value::Choice(..)
            | Value::Point(_)
            | Value::Places(_)
            | Value::Condition(_)
            | Value::Table(_)
            | Value::Tool(_)
            | Value::Invalid => None,
        }
    }
}

/// `screw.seat`: known at once where the row is.
pub(crate) fn column_value(row: &RowExpr, index: usize, kind: &ColumnType, span: Span) -> Value {
    let cell = match row {
        RowExpr::Constant(table, number) => table.rows.get(*number).and_then(|r| r.cells.get(index)),
        RowExpr::Parameter(..) | RowExpr::Column(..) | RowExpr::If(..) => None,
    };
    let number = |dimension: Dimension, whole: bool| {
        let kind = match cell {
            Some(Cell::Number(value)) => ExprKind::Number(value.clone()),
            Some(Cell::Row(_)) | None => ExprKind::Column(row.clone(), index),
        };
        Expr::new(kind, Some(dimension), whole, span)
    };
    match (kind, cell) {
        (ColumnType::Number { dimension, whole }, _) => Value::Number(number(*dimension, *whole)),
        (ColumnType::Choice(words), _) => Value::Choice(words.clone(), number(Dimension::RATIO, true)),
        (ColumnType::Row(table), Some(Cell::Row(row))) => Value::Row(RowExpr::Constant(table.clone(), *row)),
        (ColumnType::Row(table), _) => {
            Value::Row(RowExpr::Column(Box::new(row.clone()), index, table.clone()))
        }
    }
}
