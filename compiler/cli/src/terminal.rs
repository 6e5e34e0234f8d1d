//! The terminal: results on standard output, findings on standard error, colours where they are wanted.

use std::io::{self, Write};

use anstream::{AutoStream, ColorChoice};
use borewright_driver::render::Look;

/// Where output goes and how it is to look.
#[derive(Debug, Clone, Copy)]
pub struct Terminal {
    width: usize,
}

impl Terminal {
    pub fn new() -> Self {
        let width = terminal_size::terminal_size().map_or(100, |(width, _)| usize::from(width.0));
        Self { width: width.min(120) }
    }

    /// How text for standard error is to look (NO_COLOR and its kin are honoured).
    pub fn look(self) -> Look {
        let colour = AutoStream::choice(&io::stderr()) != ColorChoice::Never;
        Look { colour, width: self.width }
    }

    /// Prints a result.
    pub fn result(self, text: &str) {
        write(&mut anstream::stdout().lock(), text);
    }

    /// Prints what was found, or what is told besides the result.
    pub fn tell(self, text: &str) {
        write(&mut anstream::stderr().lock(), text);
    }
}

/// A reader that went away (`| head`) is no fault of ours, and there is nobody left to tell.
fn write(to: &mut impl Write, text: &str) {
    let _ = to.write_all(text.as_bytes()).and_then(|()| to.flush());
}
