//! Conform: what of a text the language of a given controller does not have.
//!
//! The reader takes every dialect in; here each construct is held against one controller, so that a text for one
//! machine is not silently run as if it were for another.

use borewright_base::{Diagnostics, Span};

use crate::code::{Miscellaneous, Preparatory};
use crate::controller::{Controller, Dialect, Logic};
use crate::errors::{self, Fault};
use crate::read::{Feature, Note, tenths};
use crate::text::{
    Assignment, Binary, Block, Body, Content, Expression, Instruction, Items, Operation, Program, Then, Word,
};

/// Everything in the text that this controller does not know.
#[must_use]
pub fn conform(program: &Program, controller: &Controller) -> Diagnostics {
    let mut conformer = Conformer { controller, found: Diagnostics::default() };
    conformer.layout(program);
    for note in &program.notes {
        conformer.note(*note);
    }
    for body in &program.bodies {
        conformer.body(body);
    }
    conformer.found
}

struct Conformer<'c> {
    controller: &'c Controller,
    found: Diagnostics,
}

impl Conformer<'_> {
    fn dialect(&self) -> &Dialect {
        &self.controller.dialect
    }

    fn refuse(&mut self, span: Span, what: &str, hint: &str) {
        let message = format!("{what}: not in the language of {}", self.controller.name);
        self.found.report(Fault::new(errors::NOT_IN_DIALECT, span, message).hint(hint).into());
    }

    /// Line lengths, and how a file begins and ends (NISTIR 6556, sections 3.1 and 3.3).
    fn layout(&mut self, program: &Program) {
        let layout = &program.layout;
        if let Some(limit) = self.dialect().line_limit {
            for span in &layout.long_lines {
                let fault = Fault::new(
                    errors::LINE_TOO_LONG,
                    *span,
                    format!("a line of more than {limit} characters"),
                )
                .hint("split it: compute parts into variables first");
                self.found.report(fault.into());
            }
        }
        if !self.dialect().marked_end {
            return;
        }
        match (layout.opened, layout.closed) {
            (Some(opened), None) => {
                let fault =
                    Fault::new(errors::FILE_END, opened, "the file begins with % and does not end with one")
                        .hint("add a line with % alone at the end");
                self.found.report(fault.into());
            }
            (None, _) if !program.bodies.iter().any(ends) => {
                let last = program.bodies.last().map(|b| b.blocks.last().map_or(b.span, |block| block.span));
                let fault = Fault::new(
                    errors::FILE_END,
                    last.unwrap_or_default(),
                    "the file has neither M2, M30 nor %",
                )
                .hint("end the program with M2 or M30");
                self.found.report(fault.into());
            }
            (None | Some(_), _) => {}
        }
    }

    fn note(&mut self, note: Note) {
        let span = note.span;
        match note.feature {
            Feature::MixedLogic if self.dialect().logic == Logic::Comparisons => {
                let message = "AND, OR or XOR beside another operator without brackets";
                let fault = Fault::new(errors::AMBIGUOUS_EXPRESSION, span, message).hint(
                    "controllers rank them differently: put each part in brackets, [[#1 GT 0] AND [#2 GT 0]]",
                );
                self.found.report(fault.into());
            }
            Feature::BareOperator if !self.dialect().loose_expressions => {
                self.refuse(span, "an operator outside brackets", "write the sum in brackets [ ]");
            }
            Feature::SignedValue if !self.dialect().loose_expressions => {
                self.refuse(
                    span,
                    "a sign before something that is not a number",
                    "write [0 - #1] instead of -#1",
                );
            }
            Feature::OneArgumentAtan if !self.dialect().loose_expressions => {
                self.refuse(span, "ATAN with one argument", "write ATAN[y]/[x]");
            }
            Feature::Brackets(depth) if self.dialect().bracket_depth.is_some_and(|limit| depth > limit) => {
                let what = format!("{depth} brackets in one another");
                self.refuse(span, &what, "compute the inner part into a variable first");
            }
            Feature::MixedLogic
            | Feature::BareOperator
            | Feature::SignedValue
            | Feature::OneArgumentAtan
            | Feature::Brackets(_) => {}
        }
    }

    fn body(&mut self, body: &Body) {
        if body.number.is_some() && !self.dialect().program_numbers {
            self.refuse(body.span, "a program number O", "delete it");
        }
        let mut open = 0;
        for block in &body.blocks {
            self.sequence(block);
            match &block.content {
                Content::While { .. } => {
                    open += 1;
                    if self.dialect().while_do && open > self.dialect().loop_depth {
                        let what = format!("{open} WHILE loops in one another");
                        self.refuse(block.span, &what, "make one of them a loop with IF and GOTO");
                    }
                }
                Content::End { .. } => open -= 1,
                Content::Items(_) | Content::If { .. } | Content::Goto(_) | Content::Unreadable => {}
            }
            self.content(block);
        }
    }

    fn sequence(&mut self, block: &Block) {
        let (Some(sequence), Some(limit)) = (block.sequence, self.dialect().sequence_digits) else { return };
        if sequence.digits > limit {
            let what = format!("an N number of more than {limit} digits");
            self.refuse(sequence.span, &what, "use a smaller number");
        }
    }

    fn content(&mut self, block: &Block) {
        let span = block.span;
        match &block.content {
            Content::Items(items) => self.items(items),
            Content::If { condition, then } => {
                self.expression(condition, span);
                match then {
                    Then::Goto(number) => {
                        self.statement(self.dialect().if_goto, span, "IF .. GOTO");
                        self.expression(number, span);
                    }
                    Then::Assign(assignments) => {
                        self.statement(self.dialect().if_then, span, "IF .. THEN");
                        self.assignments(assignments);
                    }
                }
            }
            Content::While { condition, .. } => {
                self.statement(self.dialect().while_do, span, "WHILE");
                self.expression(condition, span);
            }
            Content::End { .. } => self.statement(self.dialect().while_do, span, "END"),
            Content::Goto(number) => {
                self.statement(self.dialect().if_goto, span, "GOTO");
                self.expression(number, span);
            }
            Content::Unreadable => {}
        }
    }

    fn statement(&mut self, known: bool, span: Span, name: &str) {
        if !known {
            self.refuse(
                span,
                &format!("the statement {name}"),
                "write plain blocks, or choose another machine",
            );
        }
    }

    fn items(&mut self, items: &Items) {
        self.assignments(&items.assignments);
        for word in &items.words {
            if !self.dialect().letters.contains(word.letter) {
                self.refuse(word.span, &format!("the letter {}", word.letter), "check the letter");
            }
            self.expression(&word.value, word.span);
            self.code(word, items);
        }
    }

    fn assignments(&mut self, assignments: &[Assignment]) {
        for assignment in assignments {
            if !self.dialect().expressions {
                self.refuse(assignment.span, "variables", "write plain numbers");
            }
            self.expression(&assignment.variable, assignment.span);
            self.expression(&assignment.value, assignment.span);
        }
    }

    fn expression(&mut self, expression: &Expression, span: Span) {
        let Expression::Code(code) = expression else { return };
        if !self.dialect().expressions {
            self.refuse(span, "variables and brackets", "write plain numbers");
            return;
        }
        for instruction in code {
            self.instruction(*instruction);
        }
    }

    fn instruction(&mut self, instruction: Instruction) {
        let dialect = self.dialect();
        let tests = dialect.if_goto || dialect.if_then || dialect.while_do;
        let name = match instruction.operation {
            Operation::Binary(Binary::Compare(_)) if !tests => {
                self.refuse(
                    instruction.span,
                    "a comparison",
                    "write plain blocks, or choose another machine",
                );
                return;
            }
            Operation::Function(function) => function.name(),
            Operation::ArcTangent => "ATAN",
            Operation::Number(_) | Operation::Variable | Operation::Negate | Operation::Binary(_) => return,
        };
        let known = dialect.functions.as_ref().is_none_or(|functions| functions.iter().any(|f| f == name));
        if !known {
            self.refuse(instruction.span, &format!("the function {name}"), "compute the value beforehand");
        }
    }

    /// Codes that this controller has no meaning for, and calls where it has none.
    fn code(&mut self, word: &Word, items: &Items) {
        let Some(tenths) = tenths(word).filter(|_| matches!(word.letter, 'G' | 'M')) else { return };
        if word.letter == 'G' {
            match self.controller.preparatory(tenths) {
                _ if self.controller.ignored_codes.contains(&tenths) => {}
                None => self.unknown('G', tenths, word.span),
                Some(Preparatory::Call) if !self.dialect().macro_calls => {
                    self.refuse(
                        word.span,
                        "the macro call",
                        "write the moves out, or choose another machine",
                    );
                }
                Some(_) => {}
            }
            return;
        }
        if items.words.iter().any(|w| w.letter == 'G' && self.calls(w)) {
            return;
        }
        match (tenths % 10 == 0).then(|| self.controller.miscellaneous(tenths / 10)).flatten() {
            None => self.unknown('M', tenths, word.span),
            Some(Miscellaneous::CallSubprogram | Miscellaneous::Return) if !self.dialect().subprograms => {
                self.refuse(word.span, "subprograms", "write the moves out, or choose another machine");
            }
            Some(_) => {}
        }
    }

    fn calls(&self, word: &Word) -> bool {
        tenths(word).and_then(|t| self.controller.preparatory(t)) == Some(Preparatory::Call)
    }

    fn unknown(&mut self, letter: char, tenths: i64, span: Span) {
        self.found.report(errors::unknown_code(letter, tenths, span).into());
    }
}

/// A block of the program ends it.
fn ends(body: &Body) -> bool {
    let is_end = |word: &Word| {
        word.letter == 'M'
            && tenths(word).and_then(|t| Miscellaneous::from_number(t / 10)) == Some(Miscellaneous::End)
    };
    body.blocks.iter().any(|block| match &block.content {
        Content::Items(items) => items.words.iter().any(is_end),
        Content::If { .. }
        | Content::While { .. }
        | Content::End { .. }
        | Content::Goto(_)
        | Content::Unreadable => false,
    })
}
